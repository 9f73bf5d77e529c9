"""The mouth: every tooth with its number, its state, what is worst on it, and where there is room
what was measured at its sites; a click takes a tooth in hand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

from textual import events
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.style import Style
from textual.widget import Widget

from dictate.chart.chart import Chart
from dictate.screen.measures import Measure, measures_on, stages_on
from dictate.screen.mouth_layout import Line, MouthLayout, Place, lay_out
from dictate.screen.signs import ToothSigns, fit, signs_of

Piece: TypeAlias = tuple[int, str, Style]
"""A column, what stands from there on, and its ink."""

_CORNERS = (("upper right", "upper left"), ("lower right", "lower left"))
_ROOM_BESIDE_GLYPH = 8
"""The width of a tooth that has a column for the question mark beside its glyph."""
_NARROW = 5
"""The width of a tooth up to which its signs reach the next tooth's glyph."""


class Mouth(Widget):
    """The teeth of `chart`; those in `asked` carry a question mark."""

    COMPONENT_CLASSES = {  # noqa: RUF012
        "mouth--untouched", "mouth--skipped", "mouth--normal", "mouth--minor", "mouth--moderate",
        "mouth--severe", "mouth--missing", "mouth--extracted",
        "mouth--in-hand", "mouth--beside-hand", "mouth--asked", "mouth--beyond", "mouth--lines",
    }  # fmt: skip
    DEFAULT_CSS = """
    Mouth {
        height: auto;
        text-wrap: nowrap;
        .mouth--untouched, .mouth--skipped, .mouth--lines { color: $secondary; }
        .mouth--normal, .mouth--missing, .mouth--extracted { color: $foreground; }
        .mouth--minor { color: $gravity-minor; text-style: bold; }
        .mouth--moderate { color: $gravity-moderate; text-style: bold; }
        .mouth--severe { color: $gravity-severe; text-style: bold; }
        .mouth--beyond { color: $background; background: $foreground; text-style: bold; }
        .mouth--asked { color: black; background: $warning; text-style: bold; }
        .mouth--in-hand { color: $background; background: $foreground; text-style: bold; }
        .mouth--beside-hand { color: $foreground; background: $panel; }
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
        for label in layout.labels:
            lines[label.line].append((1, label.words, ink))
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
        plain, measured = max(9, screen_height * 3 // 10), screen_height * 11 // 20
        return lay_out(chart.species, others, width, plain, young, measured)

    def _ink(self, name: str) -> Style:
        return self.get_visual_style(f"mouth--{name}")

    def _between_jaws(self, layout: MouthLayout) -> str:
        right, left = " animal’s right ", " animal’s left "
        inwards = "─" * (layout.midline - len(right) - 2)
        outwards = "─" * (self.content_size.width - layout.midline - len(left) - 3)
        return f"──{right}{inwards}┼{outwards}{left}──"

    def _draw_tooth(self, chart: Chart, place: Place) -> list[list[Piece]]:
        """Return the pieces of each line of a tooth."""
        tooth = place.tooth
        in_hand = tooth in chart.teeth_in_hand
        shown = signs_of(chart, tooth)
        signs = self._draw_signs(place, shown, in_hand)
        number = f"[{tooth}]" if in_hand else f" {tooth} "
        ink = self._ink("in-hand" if in_hand else shown.ink)
        lines: list[list[Piece]] = []
        for line in place.lines:
            if line == "number":
                lines.append([(place.column, number.ljust(place.width)[: place.width], ink)])
            elif line == "signs":
                lines.append(next(signs))
            elif line == "stages":
                words = stages_on(chart, tooth).ljust(3 * place.site_width)
                lines.append([(place.column + 1, words, self._beside(shown.ink, in_hand))])
            else:
                lines.append(self._draw_measures(place, line, in_hand))
        return lines

    def _beside(self, name: str, in_hand: bool) -> Style:
        """Return an ink; of a tooth in hand that of the lines that belong to it."""
        return self._ink("beside-hand" if in_hand else name)

    def _draw_signs(self, place: Place, shown: ToothSigns, in_hand: bool) -> Iterator[list[Piece]]:
        """Yield the pieces of each line of signs. The glyph of the state keeps its ink in hand: a
        bar that is turned inside out would be another one."""
        asked, end = place.tooth in self.asked, place.column + place.width
        apart = place.width >= _ROOM_BESIDE_GLYPH
        glyph_at = place.column + (2 if not shown.signs else 1 if apart else 0)
        words_at = place.column + (2 if apart else 1)
        end -= place.width > _NARROW
        ink = self._ink("in-hand" if in_hand else shown.ink)
        rows = fit(shown.signs, end - words_at, place.lines.count("signs"))
        for number in range(place.lines.count("signs")):
            words = rows[number] if number < len(rows) else ""
            pieces: list[Piece] = []
            if number == 0 and asked:
                pieces.append((place.column, "?", self._ink("asked")))
            if number == 0 and not (asked and glyph_at == place.column):
                pieces.append((glyph_at, shown.glyph, self._ink(shown.ink)))
            if words or (in_hand and shown.signs):
                pieces.append((words_at, words.ljust(end - words_at), ink))
            yield pieces

    def _draw_measures(self, place: Place, line: Line, in_hand: bool) -> list[Piece]:
        """Return the pieces of a line of three sites."""
        assert self.chart
        measures = measures_on(self.chart, place.tooth, line)
        field = place.site_width
        pieces = [
            (place.column + 1 + number * field, *self._draw_measure(measure, field, in_hand))
            for number, measure in enumerate(measures)
        ]
        return pieces or [(place.column + 1, " " * (3 * field), self._beside("lines", in_hand))]

    def _draw_measure(self, measure: Measure, field: int, in_hand: bool) -> tuple[str, Style]:
        words = measure.written(field)
        if measure.beyond:
            return words, self._ink("beyond")
        return words.ljust(field), self._beside(
            "normal" if measure.value is not None else "lines", in_hand
        )


def _assemble(pieces: list[Piece]) -> Content:
    """Return a line of pieces at their columns."""
    parts: list[str | tuple[str, Style]] = []
    filled = 0
    for column, text, ink in sorted(pieces, key=lambda piece: piece[0]):
        parts += [" " * (column - filled), (text, ink)]
        filled = column + len(text)
    return Content.assemble(*parts)
