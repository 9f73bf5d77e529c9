"""Where each tooth stands on the screen, in characters.

The mouth is open and seen from the front: the animal's right is on the viewer's left. Where a
jaw is too wide for one row, its front teeth stand in a row of their own, outside the cheek
teeth, as they do in the arch. Where there is room, the measurements of each side of a tooth stand
on that side of it: outer ones towards the edge of the mouth, inner ones towards the tongue.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from dictate.chart.anatomy import Species, anatomy_of, is_left, position

Line = Literal[
    "number", "signs", "stages",
    "outer depths", "inner depths", "outer recessions", "inner recessions",
]  # fmt: skip
"""What stands on a line of a tooth. "stages": furcation and mobility."""

_LEAST_CELL, _READABLE_CELL, _MOST_CELL = 4, 5, 9
_MOST_FOLDED_CELL = 7
_LEAST_MEASURED_CELL, _LEAST_FOLDED_MEASURED_CELL, _MOST_MEASURED_CELL = 8, 7, 12
_LABEL_WIDTH = 11
_FREE_FOR_WORDS = 12
_DECIDUOUS = (1, 2, 3, 4, 6, 7, 8)
_FRONT = 4
_MEASURED: tuple[Line, ...] = ("outer depths", "number", "signs", "inner depths")
_ALL_MEASURED: tuple[Line, ...] = (
    "outer recessions", "outer depths", "number", "signs", "stages",
    "inner depths", "inner recessions",
)  # fmt: skip
_TWO_SIGNS: tuple[Line, ...] = (*_ALL_MEASURED[:4], *_ALL_MEASURED[3:])
_OTHER_SIDE: dict[Line, Line] = {
    "outer depths": "inner depths", "inner depths": "outer depths",
    "outer recessions": "inner recessions", "inner recessions": "outer recessions",
}  # fmt: skip
_DETAILED: tuple[tuple[bool, tuple[Line, ...]], ...] = (
    (False, _TWO_SIGNS), (False, _ALL_MEASURED), (True, _ALL_MEASURED),
    (False, _MEASURED), (True, _MEASURED),
)  # fmt: skip
"""The layouts with measurements, whether their jaws are folded into two rows, best first."""


@dataclass(frozen=True)
class Place:
    """A tooth's place: its left column and top line, its width, and what its lines hold."""

    tooth: int
    column: int
    line: int
    width: int
    lines: tuple[Line, ...]

    @property
    def height(self) -> int:
        """How many lines it takes."""
        return len(self.lines)

    @property
    def site_width(self) -> int:
        """How many columns each of the three sites of a side has; they begin in the second."""
        return (self.width - 1) // 3

    def holds(self, column: int, line: int) -> bool:
        """Return whether a point lies on the tooth."""
        return 0 <= column - self.column < self.width and 0 <= line - self.line < self.height


@dataclass(frozen=True)
class Label:
    """What the measurements on a line are, in words that fit the left edge: "P buccal"."""

    line: int
    words: str


@dataclass(frozen=True)
class MouthLayout:
    """Every tooth's place, the column of the midline, the line between the jaws, the lines
    whose ends are free for words, the labels at the left edge, and the height of it all."""

    places: tuple[Place, ...]
    midline: int
    between: int
    free_lines: tuple[int, ...]
    height: int
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True)
class _Row:
    quadrants: tuple[int, int]
    columns: tuple[int, ...]
    """Positions from the midline outwards, those that this jaw lacks included."""
    teeth: frozenset[int]
    cell: int
    lines: tuple[Line, ...] = ("number", "signs")
    outwards: bool = False
    margin: int = 0

    @property
    def is_upper(self) -> bool:
        """Whether it is a row of the upper jaw."""
        return self.quadrants[0] % 4 == 1

    @property
    def outer_side(self) -> str:
        """The outer side of its teeth by the name that fits them all."""
        is_front = self.columns[-1] <= _FRONT
        return "labial" if is_front else "facial" if self.columns[0] == 1 else "buccal"

    def labels(self, top: int) -> Iterator[Label]:
        """Yield the labels of its lines, which begin at `top`."""
        inner = "palatal" if self.is_upper else "lingual"
        for line, what in enumerate(self.lines, top):
            side, _, measured = what.partition(" ")
            if measured:
                sign = "P" if measured == "depths" else "R"
                yield Label(line, f"{sign} {self.outer_side if side == 'outer' else inner}")
            elif what == "stages":
                yield Label(line, "F and M")


@lru_cache(maxsize=32)
def lay_out(
    species: Species,
    others: tuple[int, ...],
    width: int,
    most_lines: int,
    young: bool = False,
    most_with_measurements: int = 0,
) -> MouthLayout:
    """Return the layout for a width in characters. The permanent teeth make the arch, where the
    animal is `young` the deciduous ones; `others` are the teeth of the other dentition to show
    between the jaws. `most_lines` is what the arch should take, but it takes at least 2 a row.
    Measurements are shown where all of it then fits the width and `most_with_measurements`."""
    for folded, lines in _DETAILED:
        jaws = _measured_rows(species, width, young, folded, lines)
        if jaws is not None:
            layout = _set(*jaws, others, width, young)
            if layout.height <= most_with_measurements:
                return layout
    return _set(*_plain_rows(species, width, young, most_lines), others, width, young)


def _set(
    upper: Sequence[_Row], lower: Sequence[_Row], others: Sequence[int], width: int, young: bool
) -> MouthLayout:
    """Return the layout of the rows of both jaws from the top, and the others between them."""
    cell = upper[0].cell
    within_upper, within_lower = (_permanent_between if young else _young_between)(others, cell)
    above = [*upper, *(row for row in within_upper if row.teeth)]
    below = [*(row for row in within_lower if row.teeth), *lower]
    places: list[Place] = []
    labels: list[Label] = []
    line = between = 0
    tops: list[int] = []
    for number, row in enumerate((*above, *below)):
        if number == len(above):
            between, line = line, line + 1
        tops.append(line)
        places += _places(row, width, line)
        labels += row.labels(line)
        line += len(row.lines)
    numbers = (tops[0] + upper[0].lines.index("number"), tops[-1] + lower[-1].lines.index("number"))
    has_free_ends = len(upper) == 2 and width // 2 - 4 * cell >= _FREE_FOR_WORDS
    free = numbers if has_free_ends else ()
    return MouthLayout(tuple(places), width // 2, between, free, line, tuple(labels))


def _jaws(species: Species, young: bool, folded: bool, cell: int) -> tuple[list[_Row], list[_Row]]:
    """Return the rows of the upper and the lower jaw, from the top."""
    anatomy = anatomy_of(species)
    teeth = frozenset(anatomy.deciduous_teeth if young else anatomy.permanent_teeth)
    columns = _columns(species, young)
    upwards, downwards = ((5, 6), (8, 7)) if young else ((1, 2), (4, 3))
    if not folded:
        return [_Row(upwards, columns, teeth, cell)], [_Row(downwards, columns, teeth, cell)]
    front, cheek = columns[:_FRONT], columns[_FRONT:]
    upper, lower = (
        [_Row(where, front, teeth, cell), _Row(where, cheek, teeth, cell, outwards=True)]
        for where in (upwards, downwards)
    )
    return upper, lower[::-1]


def _columns(species: Species, young: bool) -> tuple[int, ...]:
    """Return the positions from the midline outwards that either jaw has."""
    anatomy = anatomy_of(species)
    jaws = anatomy.deciduous if young else anatomy.permanent
    return tuple(sorted({*jaws.upper, *jaws.lower}))


def _plain_rows(
    species: Species, width: int, young: bool, most_lines: int
) -> tuple[list[_Row], list[_Row]]:
    """Return the rows with numbers and signs alone."""
    count = len(_columns(species, young))
    cell = min((width - 3) // (2 * count), _MOST_CELL)
    folded = cell < _READABLE_CELL
    if folded:
        cell = (width - 1) // (2 * max(_FRONT, count - _FRONT))
        cell = max(_LEAST_CELL, min(cell, _MOST_FOLDED_CELL))
    upper, lower = _jaws(species, young, folded, cell)
    sign_lines = max(1, min(4, (most_lines - 1) // (len(upper) + len(lower)) - 1))
    signs: list[Line] = ["signs"] * sign_lines
    lines: tuple[Line, ...] = ("number", *signs)
    return [replace(row, lines=lines) for row in upper], [
        replace(row, lines=lines) for row in lower
    ]


def _measured_rows(
    species: Species, width: int, young: bool, folded: bool, lines: tuple[Line, ...]
) -> tuple[list[_Row], list[_Row]] | None:
    """Return the rows with measurements, None where the width has no room for them."""
    count = len(_columns(species, young))
    widest = max(_FRONT, count - _FRONT) if folded else count
    cell = min((width // 2 - _LABEL_WIDTH) // widest, _MOST_MEASURED_CELL)
    if cell < (_LEAST_FOLDED_MEASURED_CELL if folded else _LEAST_MEASURED_CELL):
        return None
    upper, lower = _jaws(species, young, folded, cell)
    mirrored = tuple(_OTHER_SIDE.get(line, line) for line in lines)
    return (
        [replace(row, lines=lines, margin=_LABEL_WIDTH) for row in upper],
        [replace(row, lines=mirrored, margin=_LABEL_WIDTH) for row in lower],
    )


def _young_between(teeth: Sequence[int], cell: int) -> tuple[list[_Row], list[_Row]]:
    """Return the rows of deciduous teeth between the permanent ones, by jaw."""
    upper, lower = _in_quadrants(teeth, (5, 6)), _in_quadrants(teeth, (8, 7))
    return [_Row((5, 6), _DECIDUOUS, upper, cell)], [_Row((8, 7), _DECIDUOUS, lower, cell)]


def _permanent_between(teeth: Sequence[int], cell: int) -> tuple[list[_Row], list[_Row]]:
    """Return the rows of permanent teeth between the deciduous ones, by jaw: front teeth and
    cheek teeth, the front ones next to the arch that they stand in."""
    front, cheek = tuple(range(1, _FRONT + 1)), tuple(range(_FRONT + 1, 12))
    rows = []
    for quadrants in ((1, 2), (4, 3)):
        here = _in_quadrants(teeth, quadrants)
        rows.append(
            [
                _Row(quadrants, places, frozenset(t for t in here if position(t) in places), cell)
                for places in (front, cheek)
            ]
        )
    return rows[0], rows[1][::-1]


def _in_quadrants(teeth: Sequence[int], quadrants: tuple[int, int]) -> frozenset[int]:
    return frozenset(tooth for tooth in teeth if tooth // 100 in quadrants)


def _places(row: _Row, width: int, line: int) -> list[Place]:
    midline = width // 2
    # Rows of the other dentition may be wider than the arch that `cell` was chosen for.
    cell = min(row.cell, max(_LEAST_CELL, (width - 1) // (2 * len(row.columns))))
    free = min(width - 1 - midline, midline) - row.margin - len(row.columns) * cell
    gap = max(0, min(free, cell)) if row.outwards else 0
    places = []
    for quadrant in row.quadrants:
        for number, place in enumerate(row.columns):
            tooth = quadrant * 100 + place
            if tooth not in row.teeth:
                continue
            away = gap + number * cell
            column = midline + 1 + away if is_left(tooth) else midline - away - cell
            places.append(Place(tooth, column, line, cell, row.lines))
    return sorted(places, key=lambda each: (is_left(each.tooth), -position(each.tooth)))
