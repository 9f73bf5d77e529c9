"""What the signs at the teeth stand for; shown where the screen has room for it."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size
from textual.reactive import reactive
from textual.widget import Widget

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.report import value_words
from dictate.screen.signs import SIGNS, gravest_first, sign_of

_LEAST_SCREEN_HEIGHT = 34
_ALWAYS = (
    ("·", "nothing yet"), ("✓", "normal"), ("skip", "passed over"), ("gone", "missing"),
    ("[ ]", "in hand"), ("?", "asked"), ("…", "more"),
)  # fmt: skip
_BETWEEN = "   "


class Legend(Widget):
    """The signs that the chart uses, in running text."""

    COMPONENT_CLASSES = {"legend--sign"}  # noqa: RUF012
    DEFAULT_CSS = """
    Legend {
        height: auto;
        max-height: 7;
        color: $secondary;
        .legend--sign { color: $foreground; text-style: bold; }
    }
    """

    chart: reactive[Chart | None] = reactive(None, layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return 0 on a small screen."""
        if viewport.height < _LEAST_SCREEN_HEIGHT:
            return 0
        return len(self._lines(width))

    def render(self) -> Content:
        """Draw the signs."""
        return Content("\n").join(self._lines(self.size.width))

    def _lines(self, width: int) -> list[Content]:
        style = self.get_visual_style("legend--sign")
        lines = [Content()]
        for sign, meaning in self._entries():
            entry = Content.assemble((sign, style), f" {meaning}")
            if not lines[-1]:
                lines[-1] = entry
            elif lines[-1].cell_length + len(_BETWEEN) + entry.cell_length <= width:
                lines[-1] += _BETWEEN + entry
            else:
                lines.append(entry)
        return lines

    def _entries(self) -> list[tuple[str, str]]:
        if self.chart is None:
            return []
        entries = dict(_ALWAYS)
        for finding in gravest_first(self.chart, self.chart.findings):
            sign = SIGNS[finding.kind] or sign_of(finding)
            entries.setdefault(sign, _meaning(finding))
        return list(entries.items())


def _meaning(finding: Finding) -> str:
    row = finding.row
    title = f"{row.title.lower()}, mm" if row.unit else row.title.lower()
    return row.terms.get(value_words(finding), title) if finding.kind != "resorption" else title
