"""The mouth: every tooth with its number and its state; a click takes a tooth in hand."""

from __future__ import annotations

from typing import TypeAlias

from textual import events
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.style import Style
from textual.widget import Widget

from dictate.chart.chart import Chart
from dictate.screen.mouth_layout import MouthLayout, Place, lay_out
from dictate.screen.signs import fit, state_of

Piece: TypeAlias = tuple[int, str, Style]
"""A column, what stands from there on, and its ink."""

_CORNERS = (("upper right", "upper left"), ("lower right", "lower left"))


class Mouth(Widget):
    """The teeth of `chart`; those in `asked` carry a question mark."""

    COMPONENT_CLASSES = {  # noqa: RUF012
        "mouth--untouched", "mouth--skipped", "mouth--normal", "mouth--missing", "mouth--found",
        "mouth--extracted",
        "mouth--in-hand", "mouth--asked", "mouth--lines",
    }  # fmt: skip
    DEFAULT_CSS = """
    Mouth {
        height: auto;
        text-wrap: nowrap;
        .mouth--untouched, .mouth--skipped, .mouth--lines { color: $secondary; }
        .mouth--normal, .mouth--missing { color: $foreground; }
        .mouth--found, .mouth--extracted { color: $foreground; text-style: bold; }
        .mouth--asked { color: black; background: $warning; text-style: bold; }
        .mouth--in-hand { color: $background; background: $foreground; text-style: bold; }
    }
    """
    ALLOW_SELECT = False

    chart: reactive[Chart | None] = reactive(None)
    asked: reactive[frozenset[int]] = reactive(frozenset())

    class ToothClicked(Message):
        """A tooth was clicked."""

        def __init__(self, tooth: int) -> None:
            super().__init__()
            self.tooth = tooth

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines that the mouth takes at a width."""
        return self._layout_at(width, viewport.height).height if self.chart else 0

    def place_of(self, tooth: int) -> Place | None:
        """Return where a tooth is drawn, None where it is not."""
        places = self._layout_now().places
        return next((place for place in places if place.tooth == tooth), None)

    def on_click(self, event: events.Click) -> None:
        """Tell which tooth was clicked, if one was."""
        for place in self._layout_now().places:
            if place.holds(event.x, event.y):
                self.post_message(self.ToothClicked(place.tooth))

    def watch_chart(self) -> None:
        """Make room for teeth of the other dentition that appear."""
        self._make_room()

    def watch_asked(self) -> None:
        """Make room for teeth of the other dentition that are asked about."""
        self._make_room()

    def _make_room(self) -> None:
        if self.chart and self._layout_now().height != self.size.height:
            self.refresh(layout=True)

    def render(self) -> Content:
        """Draw all teeth."""
        if self.chart is None:
            return Content()
        layout = self._layout_now()
        ink = self._ink("lines")
        lines: list[list[Piece]] = [[(layout.midline, "│", ink)] for _ in range(layout.height)]
        lines[layout.between] = [(0, self._between_jaws(layout), ink)]
        for line, (right, left) in zip(layout.free_lines, _CORNERS, strict=False):
            end = self.content_size.width - len(left) - 1
            lines[line] += [(1, right, ink), (end, left, ink)]
        for place in layout.places:
            for line, pieces in enumerate(self._draw_tooth(self.chart, place), place.line):
                lines[line] += pieces
        return Content("\n").join(_assemble(pieces) for pieces in lines)

    def _layout_now(self) -> MouthLayout:
        return self._layout_at(self.content_size.width, self.app.size.height)

    def _layout_at(self, width: int, screen_height: int) -> MouthLayout:
        assert self.chart
        chart = self.chart
        shown = {*chart.charted_teeth, *chart.teeth_in_hand, *self.asked}
        anatomy = chart.anatomy
        young = chart.dentition == "deciduous"
        beside = anatomy.permanent_teeth if young else anatomy.deciduous_teeth
        others = tuple(tooth for tooth in beside if tooth in shown)
        return lay_out(chart.species, others, width, max(9, screen_height * 3 // 10), young)

    def _ink(self, name: str) -> Style:
        return self.get_visual_style(f"mouth--{name}")

    def _between_jaws(self, layout: MouthLayout) -> str:
        right, left = " animal’s right ", " animal’s left "
        inwards = "─" * (layout.midline - len(right) - 2)
        outwards = "─" * (self.content_size.width - layout.midline - len(left) - 3)
        return f"──{right}{inwards}┼{outwards}{left}──"

    def _draw_tooth(self, chart: Chart, place: Place) -> list[list[Piece]]:
        """Return the pieces of each line of a tooth."""
        tooth, room = place.tooth, place.width - 1
        in_hand = tooth in chart.teeth_in_hand
        shown = state_of(chart, tooth)
        ink = self._ink("in-hand" if in_hand else shown.state)
        number = f"[{tooth}]" if in_hand else f" {tooth} "
        lines: list[list[Piece]] = [[(place.column, number.ljust(place.width)[: room + 1], ink)]]
        rows = fit(shown.signs, room, place.height - 1)
        if shown.state in ("untouched", "normal") and len(rows[0]) < room:
            rows[0] = f" {rows[0]}"
        for row in (*rows, *[""] * (place.height - 1 - len(rows))):
            lines.append([(place.column, " ", ink), (place.column + 1, row.ljust(room), ink)])
        if tooth in self.asked:
            lines[1][0] = (place.column, "?", self._ink("asked"))
        return lines


def _assemble(pieces: list[Piece]) -> Content:
    """Return a line of pieces at their columns."""
    parts: list[str | tuple[str, Style]] = []
    filled = 0
    for column, text, ink in sorted(pieces, key=lambda piece: piece[0]):
        parts += [" " * (column - filled), (text, ink)]
        filled = column + len(text)
    return Content.assemble(*parts)
