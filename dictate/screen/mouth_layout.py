"""Where each tooth stands on the screen, in characters.

The mouth is open and seen from the front: the animal's right is on the viewer's left. Where a
jaw is too wide for one row, its front teeth stand in a row of their own, outside the cheek
teeth, as they do in the arch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from dictate.chart.anatomy import Species, anatomy_of, is_left, position

_LEAST_CELL, _READABLE_CELL, _MOST_CELL = 4, 5, 9
_MOST_FOLDED_CELL = 7
_FREE_FOR_WORDS = 12
_DECIDUOUS = (1, 2, 3, 4, 6, 7, 8)
_FRONT = 4


@dataclass(frozen=True)
class Place:
    """A tooth's place: its left column and top line, its width and its height. The number
    stands on the first line, signs below."""

    tooth: int
    column: int
    line: int
    width: int
    height: int

    def holds(self, column: int, line: int) -> bool:
        """Return whether a point lies on the tooth."""
        return 0 <= column - self.column < self.width and 0 <= line - self.line < self.height


@dataclass(frozen=True)
class MouthLayout:
    """Every tooth's place, the column of the midline, the line between the jaws, the lines
    whose ends are free for words, and the height of it all."""

    places: tuple[Place, ...]
    midline: int
    between: int
    free_lines: tuple[int, ...]
    height: int


@dataclass(frozen=True)
class _Row:
    quadrants: tuple[int, int]
    columns: tuple[int, ...]
    """Positions from the midline outwards, those that this jaw lacks included."""
    teeth: frozenset[int]
    outwards: bool = False


@lru_cache(maxsize=32)
def lay_out(
    species: Species, others: tuple[int, ...], width: int, most_lines: int, young: bool = False
) -> MouthLayout:
    """Return the layout for a width in characters. The permanent teeth make the arch, where the
    animal is `young` the deciduous ones; `others` are the teeth of the other dentition to show
    between the jaws. `most_lines` is what the arch should take, but it takes at least 2 a row."""
    upper, lower, cell = _arch_rows(species, width, young)
    sign_lines = max(1, min(4, (most_lines - 1) // (len(upper) + len(lower)) - 1))
    within_upper, within_lower = _permanent_between(others) if young else _young_between(others)
    inner = [row for row in (*within_upper, *within_lower) if row.teeth]
    above = [*upper, *(row for row in within_upper if row.teeth)]
    below = [*(row for row in within_lower if row.teeth), *lower]
    places: list[Place] = []
    line = 0
    between = 0
    for number, row in enumerate((*above, *below)):
        if number == len(above):
            between, line = line, line + 1
        small = row in inner
        room = min(cell, max(_LEAST_CELL, (width - 1) // (2 * len(row.columns)))) if small else cell
        height = 2 if small else 1 + sign_lines
        places += _places(row, width, line, room, height)
        line += height
    has_free_ends = len(upper) == 2 and width // 2 - 4 * cell >= _FREE_FOR_WORDS
    free = (0, line - 1 - sign_lines) if has_free_ends else ()
    return MouthLayout(tuple(places), width // 2, between, free, line)


def _arch_rows(species: Species, width: int, young: bool) -> tuple[list[_Row], list[_Row], int]:
    """Return the rows of the upper and the lower jaw, from the top, and the width of a tooth."""
    anatomy = anatomy_of(species)
    teeth = frozenset(anatomy.deciduous_teeth if young else anatomy.permanent_teeth)
    jaws = anatomy.deciduous if young else anatomy.permanent
    upwards, downwards = ((5, 6), (8, 7)) if young else ((1, 2), (4, 3))
    columns = tuple(sorted({*jaws.upper, *jaws.lower}))
    cell = (width - 3) // (2 * len(columns))
    if cell >= _READABLE_CELL:
        rows = [_Row(upwards, columns, teeth)], [_Row(downwards, columns, teeth)]
        return *rows, min(cell, _MOST_CELL)
    front, cheek = columns[:_FRONT], columns[_FRONT:]
    cell = (width - 1) // (2 * max(len(front), len(cheek)))
    upper = [_Row(upwards, front, teeth), _Row(upwards, cheek, teeth, outwards=True)]
    lower = [_Row(downwards, cheek, teeth, outwards=True), _Row(downwards, front, teeth)]
    return upper, lower, max(_LEAST_CELL, min(cell, _MOST_FOLDED_CELL))


def _young_between(teeth: Sequence[int]) -> tuple[list[_Row], list[_Row]]:
    """Return the rows of deciduous teeth between the permanent ones, by jaw."""
    upper, lower = _in_quadrants(teeth, (5, 6)), _in_quadrants(teeth, (8, 7))
    return [_Row((5, 6), _DECIDUOUS, upper)], [_Row((8, 7), _DECIDUOUS, lower)]


def _permanent_between(teeth: Sequence[int]) -> tuple[list[_Row], list[_Row]]:
    """Return the rows of permanent teeth between the deciduous ones, by jaw: front teeth and
    cheek teeth, the front ones next to the arch that they stand in."""
    front, cheek = tuple(range(1, _FRONT + 1)), tuple(range(_FRONT + 1, 12))
    rows = []
    for quadrants in ((1, 2), (4, 3)):
        here = _in_quadrants(teeth, quadrants)
        rows.append(
            [
                _Row(quadrants, places, frozenset(t for t in here if position(t) in places))
                for places in (front, cheek)
            ]
        )
    return rows[0], rows[1][::-1]


def _in_quadrants(teeth: Sequence[int], quadrants: tuple[int, int]) -> frozenset[int]:
    return frozenset(tooth for tooth in teeth if tooth // 100 in quadrants)


def _places(row: _Row, width: int, line: int, cell: int, height: int) -> list[Place]:
    midline = width // 2
    gap = max(0, min(width - 1 - midline - len(row.columns) * cell, cell)) if row.outwards else 0
    places = []
    for quadrant in row.quadrants:
        for number, place in enumerate(row.columns):
            tooth = quadrant * 100 + place
            if tooth not in row.teeth:
                continue
            away = gap + number * cell
            column = midline + 1 + away if is_left(tooth) else midline - away - cell
            places.append(Place(tooth, column, line, cell, height))
    return sorted(places, key=lambda each: (is_left(each.tooth), -position(each.tooth)))
