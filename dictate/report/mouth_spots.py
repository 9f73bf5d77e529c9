"""Where the teeth stand on the drawing of the mouth.

One unit is 0.1 mm when the drawing is 10 cm wide; x to the right and y down the page from the
middle of the mouth. Shapes and sizes are drawn by eye and measure nothing.
"""

from __future__ import annotations

from bisect import bisect
from functools import cache
from itertools import accumulate, pairwise
from math import cos, dist, pi, sin
from typing import NamedTuple

from dictate.chart.anatomy import Species

_ROOM: dict[Species, tuple[dict[int, int], dict[int, int]]] = {
    "dog": (
        {1: 50, 2: 50, 3: 54, 4: 70, 5: 52, 6: 58, 7: 64, 8: 96, 9: 82, 10: 62},
        {1: 48, 2: 48, 3: 50, 4: 68, 5: 52, 6: 56, 7: 60, 8: 66, 9: 98, 10: 62, 11: 52},
    ),
    "cat": (
        {1: 48, 2: 48, 3: 50, 4: 74, 6: 56, 7: 76, 8: 98, 9: 54},
        {1: 48, 2: 48, 3: 50, 4: 74, 7: 80, 8: 84, 9: 96},
    ),
}
"""Room along the arch by position, upper and lower; each row is stretched to fill its arch."""

_ARCH_DEPTH: dict[Species, int] = {"dog": 500, "cat": 330}
_ARCH_HALF_WIDTH, _SQUARENESS, _HALF_GAP = 288, 2.6, 40

_QUADRANTS = {1: (0, -1, -1), 2: (0, 1, -1), 3: (1, 1, 1), 4: (1, -1, 1)}
"""By quadrant: its jaw in `_ROOM`, then which way x and y of the page grow from the middle."""


class Spot(NamedTuple):
    """Where a tooth stands: its middle, the directions away from the midline along the arch and
    towards the cheek (unit vectors), and its room along the arch."""

    x: float
    y: float
    distal: tuple[float, float]
    outward: tuple[float, float]
    room: float

    def at(self, along: float, out: float) -> tuple[float, float]:
        """Return the point so far distally and so far outwards from the middle."""
        return (
            self.x + along * self.distal[0] + out * self.outward[0],
            self.y + along * self.distal[1] + out * self.outward[1],
        )


def half_height(species: Species) -> int:
    """Return how far the arch of either jaw reaches from the middle of the drawing."""
    return _ARCH_DEPTH[species] + _HALF_GAP


@cache
def spots(species: Species) -> dict[int, tuple[Spot, Spot]]:
    """Return for every place along the arches, by the number of the permanent tooth, the spot in
    the arch and the smaller one inside it, for what stands beside the tooth of the arch."""
    points = _quarter_arch(_ARCH_DEPTH[species])
    run = [0.0, *accumulate(dist(one, other) for one, other in pairwise(points))]
    places = {}
    for quadrant, (jaw, right, low) in _QUADRANTS.items():
        room = _ROOM[species][jaw]
        stretch = run[-1] / sum(room.values())
        for place, end in zip(room, accumulate(room.values()), strict=True):
            middle = bisect(run, (end - room[place] / 2) * stretch)
            (x, y), there = points[middle - 1], points[middle]
            length = dist((x, y), there)
            across, down = (there[0] - x) / length, (y - there[1]) / length
            spot = Spot(
                right * x,
                low * (y + _HALF_GAP),
                (right * across, -low * down),
                (right * down, low * across),
                room[place] * stretch,
            )
            inside = Spot(*spot.at(0, -92), *spot[2:4], spot.room * 0.7)
            places[quadrant * 100 + place] = spot, inside
    return places


def _quarter_arch(depth: int) -> list[tuple[float, float]]:
    """Return points from the midline to the last molar, y upwards: a quarter of Lamé's curve,
    flat at the incisors and straight along the cheek teeth."""
    turns = [step * pi / 3200 for step in range(1601)]
    power = 2 / _SQUARENESS
    return [
        (_ARCH_HALF_WIDTH * sin(turn) ** power, depth * max(0.0, cos(turn)) ** power)
        for turn in turns
    ]
