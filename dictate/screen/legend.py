"""What the signs at the teeth stand for; shown where the screen has room for it."""

from __future__ import annotations

from textual.content import Content
from textual.geometry import Size
from textual.reactive import reactive
from textual.widget import Widget

from dictate.assessment.gravity import GRAVITIES
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import FindingKind, finding_kinds
from dictate.chart.short import value_words
from dictate.screen.measures import ABOUT, BEYOND, MORE_THAN, is_cut_oddly
from dictate.screen.signs import EXTRACTED, GLYPHS, SIGNS, gravest_first, sign_of

_LEAST_SCREEN_HEIGHT = 34
_ALWAYS = (
    (GLYPHS["untouched"], "not charted, not measured"),
    (GLYPHS["normal"], "nothing beyond normal"),
    (" ".join(GLYPHS[each] for each in GRAVITIES), ", ".join(GRAVITIES)),
    (GLYPHS["skipped"], "passed over (skip)"), (GLYPHS["missing"], "missing (gone)"),
    (GLYPHS["extracted"], f"extracted now ({EXTRACTED})"),
    ("[ ]", "in hand"), ("?", "asked"), ("…", "more"),
    (BEYOND, "beyond normal"), (MORE_THAN, "more than"),
)  # fmt: skip
_MEASURED = ("pocket", "recession", "furcation", "mobility")
"""What the lines beside the teeth tell of, whether it was charted or not."""
_BETWEEN = "  "


class Legend(Widget):
    """The signs that the chart uses, in running text."""

    COMPONENT_CLASSES = {"legend--sign"}  # noqa: RUF012
    DEFAULT_CSS = """
    Legend {
        height: auto;
        max-height: 60%;
        color: $secondary;
        .legend--sign { color: $foreground; text-style: bold; }
    }
    """

    entries: reactive[tuple[tuple[str, str], ...]] = reactive((), layout=True)

    def explain(self, chart: Chart) -> None:
        """Explain the signs that a chart uses."""
        entries = dict(_ALWAYS)
        if any(is_cut_oddly(finding) for finding in chart.findings):
            entries[ABOUT] = "about"
        if chart.dentition == "mixed":
            entries["504"] = "charted in its place"
        for kind in _MEASURED:
            entries[SIGNS[kind]] = _meaning_of_kind(finding_kinds()[kind], chart.index_scale)
        for finding in gravest_first(chart, chart.findings):
            sign = SIGNS[finding.kind] or sign_of(finding)
            if finding.kind != "normal" and sign != finding.row.vague:
                entries.setdefault(sign, _meaning(finding, chart.index_scale))
        entries.pop(SIGNS["missing"], None)
        self.entries = tuple(entries.items())

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return 0 on a small screen."""
        if viewport.height < _LEAST_SCREEN_HEIGHT:
            return 0
        return len(self._lines(width))

    def render(self) -> Content:
        """Draw the signs; "…" where there is no room for all of them."""
        lines, height = self._lines(self.size.width), max(1, self.size.height)
        if len(lines) > height:
            last = lines[height - 1].truncate(max(4, self.size.width - 2))
            lines = [*lines[: height - 1], last + " …"]
        return Content("\n").join(lines)

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
    title = _meaning_of_kind(finding.row, index_scale)
    return title if SIGNS[finding.kind] else finding.row.terms.get(value_words(finding), title)


def _meaning_of_kind(row: FindingKind, index_scale: int) -> str:
    title = row.title.lower()
    if row.unit:
        return f"{title}, {row.unit}"
    return f"{title}, {row.least} to {row.top(index_scale)}" if row.value == "grade" else title
