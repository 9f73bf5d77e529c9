"""What the signs at the teeth stand for; shown where the screen has room for it."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size
from textual.reactive import reactive
from textual.widget import Widget

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.short import value_words
from dictate.screen.signs import EXTRACTED, NOTHING_YET, SIGNS, gravest_first, sign_of

_LEAST_SCREEN_HEIGHT = 34
_ALWAYS = (
    (NOTHING_YET, "not charted yet"), ("✓", "normal"), ("skip", "passed over"), ("gone", "missing"),
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

    entries: reactive[tuple[tuple[str, str], ...]] = reactive((), layout=True)

    def explain(self, chart: Chart) -> None:
        """Explain the signs that a chart uses."""
        entries = dict(_ALWAYS)
        if any(finding.kind == "extracted" for finding in chart.findings):
            entries[EXTRACTED] = "extracted in this visit"
        for finding in gravest_first(chart, chart.findings):
            sign = SIGNS[finding.kind] or sign_of(finding)
            entries.setdefault(sign, _meaning(finding, chart.index_scale))
        self.entries = tuple(entries.items())

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
        for sign, meaning in self.entries:
            entry = Content.assemble((sign, style), f" {meaning}")
            if not lines[-1]:
                lines[-1] = entry
            elif lines[-1].cell_length + len(_BETWEEN) + entry.cell_length <= width:
                lines[-1] += _BETWEEN + entry
            else:
                lines.append(entry)
        return lines


def _meaning(finding: Finding, index_scale: int) -> str:
    row = finding.row
    title = row.title.lower()
    if row.unit:
        return f"{title}, {row.unit}"
    if row.value == "grade":
        return f"{title}, {row.least} to {row.top(index_scale)}"
    return title if SIGNS[finding.kind] else row.terms.get(value_words(finding), title)
