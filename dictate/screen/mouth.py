"""The mouth: every tooth with its number and its state; a click takes a tooth in hand."""

from __future__ import annotations

from itertools import groupby
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
"""A column, what stands from there on, and how it looks."""

_CORNERS = (("upper right", "upper left"), ("lower right", "lower left"))


class Mouth(Widget):
    """The teeth of `chart`; those in `asked` carry a question mark."""

    COMPONENT_CLASSES = {  # noqa: RUF012
        "mouth--untouched", "mouth--skipped", "mouth--normal", "mouth--missing", "mouth--found",
        "mouth--in-hand", "mouth--asked", "mouth--lines",
    }  # fmt: skip
    DEFAULT_CSS = """
    Mouth {
        height: auto;
        text-wrap: nowrap;
        .mouth--untouched, .mouth--skipped, .mouth--lines { color: $secondary; }
        .mouth--normal, .mouth--missing { color: $foreground; }
        .mouth--found { color: $foreground; text-style: bold; }
        .mouth--asked { color: black; background: $warning; text-style: bold; }
        .mouth--in-hand { color: $background; background: $foreground; text-style: bold; }
    }
    """
    ALLOW_SELECT = False

    chart: reactive[Chart | None] = reactive(None, layout=True)
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

    def render(self) -> Content:
        """Draw all teeth."""
        if self.chart is None:
            return Content()
        layout = self._layout_now()
        lines = [self._draw_line(layout, line) for line in range(layout.height)]
        return Content("\n").join(lines)

    def _layout_now(self) -> MouthLayout:
        return self._layout_at(self.content_size.width, self.app.size.height)

    def _layout_at(self, width: int, screen_height: int) -> MouthLayout:
        assert self.chart
        chart = self.chart
        shown = (*chart.charted_teeth, chart.tooth_in_hand, *self.asked)
        deciduous = tuple(tooth for tooth in chart.anatomy.deciduous_teeth if tooth in shown)
        return lay_out(chart.species, deciduous, width, max(9, screen_height * 3 // 10))

    def _draw_line(self, layout: MouthLayout, line: int) -> Content:
        if line == layout.between:
            return self._draw_between(layout)
        pieces = [(layout.midline, "│", self._ink("lines"))]
        for place in layout.places:
            if 0 <= line - place.line < place.height:
                pieces += self._draw_tooth(place, line - place.line)
        if line in layout.free_lines:
            right, left = _CORNERS[layout.free_lines.index(line)]
            end = self.content_size.width - len(left) - 1
            pieces += [(1, right, self._ink("lines")), (end, left, self._ink("lines"))]
        return _assemble(pieces)

    def _ink(self, name: str) -> Style:
        return self.get_visual_style(f"mouth--{name}")

    def _draw_between(self, layout: MouthLayout) -> Content:
        right, left = " animal’s right ", " animal’s left "
        inwards = "─" * (layout.midline - len(right) - 2)
        outwards = "─" * (self.content_size.width - layout.midline - len(left) - 3)
        return Content.styled(f"──{right}{inwards}┼{outwards}{left}──", self._ink("lines"))

    def _draw_tooth(self, place: Place, line: int) -> list[Piece]:
        """Return the pieces of one line of a tooth: column, text and style."""
        assert self.chart
        tooth, room = place.tooth, place.width - 1
        in_hand, asked = tooth == self.chart.tooth_in_hand, tooth in self.asked
        shown = state_of(self.chart, tooth)
        style = self._ink("in-hand" if in_hand else shown.state)
        if line == 0:
            number = f"[{tooth}]" if in_hand else f" {tooth} "
            return [(place.column, number.ljust(place.width)[: place.width], style)]
        rows = [row.ljust(room) for row in fit(shown.signs, room, place.height - 1)]
        signs = rows[line - 1] if line <= len(rows) else " " * room
        if shown.state in ("untouched", "normal"):
            signs = f" {signs}"[:room]
        mark = ("?", self._ink("asked")) if asked and line == 1 else (" ", style)
        return [(place.column, *mark), (place.column + 1, signs, style)]


def _assemble(pieces: list[Piece]) -> Content:
    """Return a line of pieces at their columns; where two begin at one, the later stands."""
    parts: list[str | tuple[str, Style]] = []
    filled = 0
    for column, group in groupby(sorted(pieces, key=lambda piece: piece[0]), lambda each: each[0]):
        _, text, style = [*group][-1]
        parts += [" " * (column - filled), (text, style)]
        filled = max(filled, column) + len(text)
    return Content.assemble(*parts)
