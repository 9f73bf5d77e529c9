"""The tooth in hand: its number in large figures, its name, and all that was found on it."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget
from textual.widgets import Digits, Static

from dictate.chart.anatomy import is_upper, position, tooth_name
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding, same_place
from dictate.chart.short import value_words
from dictate.screen.signs import gravest_first, is_of_note
from dictate.screen.teeth_words import finding_words, teeth_words

_NO_SIDE = ("mesial", "", "distal")


class Findings(Widget):
    """What was found on one tooth: depths by site, then the rest, the gravest first."""

    COMPONENT_CLASSES = {"findings--heading", "findings--deep", "findings--of-note"}  # noqa: RUF012
    DEFAULT_CSS = """
    Findings {
        height: 1fr;
        text-wrap: nowrap;
        text-overflow: ellipsis;
        .findings--heading { color: $secondary; }
        .findings--deep { color: $background; background: $foreground; text-style: bold; }
        .findings--of-note { text-style: bold; }
    }
    """

    chart: reactive[Chart | None] = reactive(None)

    def render(self) -> Content:
        """Draw them: depths in a grid and the rest line by line, or all of it as running text
        where there is no room for that."""
        chart = self.chart
        if chart is not None and chart.several_in_hand:
            return self._draw_several(chart)
        if chart is None or chart.tooth_in_hand is None:
            return Content()
        findings = gravest_first(chart, chart.on(chart.tooth_in_hand))
        if not findings:
            skipped = chart.tooth_in_hand in chart.skipped
            return self._heading("skipped" if skipped else "nothing charted yet")
        depths = {
            same_place(each.site) or "": each
            for each in findings
            if each.kind == "pocket" and each.site
        }
        others = [each for each in findings if each not in depths.values()]
        lines = self._draw_grid(chart, chart.tooth_in_hand, depths) if depths else []
        if not chart.place_examined(chart.tooth_in_hand):
            lines.append(self._heading("not charted yet, but:"))
        lines += [self._draw_finding(chart, each) for each in others]
        if len(lines) <= self.size.height:
            return Content("\n").join(lines)
        return self._run_on(finding_words(findings))

    def _draw_several(self, chart: Chart) -> Content:
        """Return what was found on several teeth, those that carry the same in one line."""
        alike: dict[str, list[int]] = {}
        for tooth in chart.several_in_hand:
            words = ", ".join(finding_words(gravest_first(chart, chart.on(tooth))))
            alike.setdefault(words or "nothing charted yet", []).append(tooth)
        lines = [f"{teeth_words(teeth, chart.anatomy)}: {what}" for what, teeth in alike.items()]
        if len(lines) <= self.size.height and all(len(each) <= self.size.width for each in lines):
            return Content("\n".join(lines))
        return self._run_on([" · ".join(lines)])

    def _heading(self, words: str) -> Content:
        return Content.styled(words, self.get_visual_style("findings--heading"))

    def _run_on(self, words: list[str]) -> Content:
        """Return words as running text, "…" at its end if it takes more room than there is."""
        lines = Content(", ".join(words)).wrap(max(10, self.size.width))
        height = max(1, self.size.height)
        if len(lines) > height:
            last = Content(lines[height - 1].plain.rstrip() + " …")
            if last.cell_length > self.size.width:
                last = Content(last.plain.rsplit(" ", 2)[0] + " …")
            lines = [*lines[: height - 1], last]
        return Content("\n").join(lines)

    def _draw_finding(self, chart: Chart, finding: Finding) -> Content:
        of_note = is_of_note(chart, finding)
        meaning = finding.row.terms.get(value_words(finding), "")
        return Content.assemble(
            (finding.words(), self.get_visual_style("findings--of-note") if of_note else ""),
            f"  {meaning}" if meaning else "",
        )

    def _draw_grid(self, chart: Chart, tooth: int, depths: dict[str, Finding]) -> list[Content]:
        """Return the depths in mm by site: a line of headings, a line for each side, and one
        for depths whose side was not said, if there are any."""
        outer = "labial" if position(tooth) <= 4 else "buccal"
        inner = "palatal" if is_upper(tooth) else "lingual"
        rows = [(outer, _sites("buccal")), (inner, _sites("palatal"))]
        if set(_NO_SIDE) & set(depths):
            rows.append(("no side", _NO_SIDE))
        lines = [self._heading(f"{'depth mm':9}{'mesial':^8}{'middle':^8}{'distal':>7}")]
        for name, sites in rows:
            cells = [self._draw_depth(chart, depths.get(site)) for site in sites]
            lines.append(Content.assemble(self._heading(f"{name:9}"), *cells))
        return lines

    def _draw_depth(self, chart: Chart, finding: Finding | None) -> Content:
        """Return a depth in eight columns; one deeper than normal is reversed and has a "!"."""
        if finding is None:
            return self._heading(f"{'–':^8}")
        words = value_words(finding)
        if not is_of_note(chart, finding):
            return Content(f"{words:^8}")
        box = f" {words}! "
        before = (8 - len(box) + 1) // 2
        after = " " * (8 - before - len(box))
        return Content.assemble(" " * before, (box, self.get_visual_style("findings--deep")), after)


def _sites(side: str) -> tuple[str, str, str]:
    """Return the three sites to probe on a side, from mesial to distal."""
    return f"mesio{side}", side, f"disto{side}"


class ToothInHand(Vertical):
    """The panel of the tooth in hand."""

    DEFAULT_CSS = """
    ToothInHand {
        padding: 0 1;
        #tooth-heading { height: 3; }
        Digits { width: 11; text-style: bold; }
        #tooth-name { width: 1fr; height: 3; text-style: bold; content-align: left middle; }
        &.-none Digits, &.-tight Digits { display: none; }
        &.-tight #tooth-heading, &.-tight #tooth-name { height: 1; }
        &.-tight #tooth-name { text-wrap: nowrap; text-overflow: ellipsis; }
    }
    """

    chart: reactive[Chart | None] = reactive(None)

    def compose(self) -> ComposeResult:
        """Lay out the heading and the findings."""
        with Horizontal(id="tooth-heading"):
            yield Digits()
            yield Static(id="tooth-name", markup=False)
        yield Findings()

    def on_resize(self) -> None:
        """Where there is little room, write the number small."""
        self.set_class(self.size.height < 5, "-tight")
        self.watch_chart(self.chart)

    def watch_chart(self, chart: Chart | None) -> None:
        """Show another tooth or other findings."""
        tooth = chart.tooth_in_hand if chart else None
        self.set_class(tooth is None, "-none")
        self.query_one(Digits).update("" if tooth is None else str(tooth))
        self.query_one("#tooth-name", Static).update(self._words_for(chart, tooth))
        self.query_one(Findings).chart = chart

    def _words_for(self, chart: Chart | None, tooth: int | None) -> str:
        if chart is not None and chart.several_in_hand:
            teeth = chart.several_in_hand
            return f"{teeth_words(teeth, chart.anatomy)}: {len(teeth)} teeth in hand"
        if tooth is None:
            return "No tooth in hand: say its number."
        return f"{tooth} {tooth_name(tooth)}" if self.has_class("-tight") else tooth_name(tooth)
