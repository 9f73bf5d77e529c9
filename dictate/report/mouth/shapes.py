"""The shapes of teeth: crowns by kind, species and jaw, and roots in their true number.

Drawn by eye for this program; the numbers of roots come from the tables of the species, all else
measures nothing. Lengths are 0.1 mm of a drawing that is 10 cm wide.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import NamedTuple, TypeAlias

from dictate.chart.anatomy import Species, anatomy_of, is_deciduous, is_upper, position

Outline: TypeAlias = tuple[tuple[str, tuple[float, ...]], ...]
"""A path: its letters (M, L, C, Q, Z) with the numbers of each, x and y in turn."""

_TOP_OF_TRUNK, _FUSED = 0.2, 0.66
"""How far down the roots part, as a share of their length; of roots that are often fused."""


class Form(NamedTuple):
    """How a tooth looks: the crown from the side and from above, and the lines on its top, in a
    box of 1 by 1 (see shapes.toml); its size; and its roots. `roots` is the most that it may
    have; `varies` where it may have fewer; `third` is where the palatal one of three stands."""

    side: Outline
    top: Outline
    lines: Outline
    room: float
    width: float
    height: float
    thickness: float
    root_length: float
    roots: int
    varies: bool
    third: float

    @property
    def furcation(self) -> float:
        """How far from the neck the roots part."""
        return self.root_length * (_FUSED if self.varies else _TOP_OF_TRUNK)

    def tips(self) -> list[tuple[float, float]]:
        """Return where the roots seen from the cheek end: along the arch from the middle of the
        tooth to distal, and away from the neck."""
        half = self.width / 2
        if self.roots == 1:
            return [(half * 0.3, self.root_length)]
        spread = 0.22 if self.varies else 0.58
        return [(-half * spread, self.root_length), (half * (spread + 0.14), self.root_length)]

    def front_roots(self) -> str:
        """Return the path of one root, or of the two that are seen from the cheek."""
        half = self.width * abs(self.side[0][1][0])
        tips = self.tips()
        if len(tips) == 1:
            return _root(-half, half, *tips[0], 0.0)
        first, second = tips
        return _two_roots(half, first, second, self.furcation)

    def third_root(self) -> str:
        """Return the path of the palatal root of a tooth with three; "" where there is none."""
        if self.roots < 3:
            return ""
        middle, half = self.third * self.width, self.width * 0.17
        return _root(middle - half, middle + half, middle, self.root_length * 0.86, 0.0)


def _path(*parts: str | float) -> str:
    """Return letters and numbers as a path, in hundredths."""
    return " ".join(part if isinstance(part, str) else f"{part:.2f}" for part in parts)


def _root(left: float, right: float, tip: float, length: float, top: float) -> str:
    """Return a root that tapers from its neck to a rounded tip; y is away from the crown."""
    blunt, low = (right - left) * 0.13, length * 0.95
    return _path(
        *("M", left, top, "C", left, length * 0.42),
        *(tip - blunt * 2.4, length * 0.7, tip - blunt, low),
        *("Q", tip, length * 1.05, tip + blunt, low),
        *("C", tip + blunt * 2.4, length * 0.7, right, length * 0.42, right, top),
    )


def _two_roots(
    half: float, first: tuple[float, float], second: tuple[float, float], fork: float
) -> str:
    (one, length), (other, _) = first, second
    blunt, low, inside = half * 0.14, length * 0.95, fork + (length - fork) * 0.25
    return _path(
        *("M", -half, 0.0, "C", -half * 1.04, length * 0.4),
        *(one - blunt * 2, length * 0.7, one - blunt, low),
        *("Q", one, length * 1.05, one + blunt, low),
        *("C", one + blunt * 2, length * 0.74, -half * 0.16, inside, 0.0, fork),
        *("C", half * 0.16, inside, other - blunt * 2, length * 0.74, other - blunt, low),
        *("Q", other, length * 1.05, other + blunt, low),
        *("C", other + blunt * 2, length * 0.7, half * 1.04, length * 0.4, half, 0.0),
    )


@cache
def form_of(species: Species, tooth: int) -> Form:
    """Return how a tooth of a species is drawn."""
    tables = _tables()
    dentition = "deciduous" if is_deciduous(tooth) else "permanent"
    jaw = "upper" if is_upper(tooth) else "lower"
    name, room, width, height, thickness, root_length = tables[species][dentition][jaw][
        str(position(tooth))
    ]
    shape = tables["forms"][name]
    counts = anatomy_of(species).root_counts(tooth)
    return Form(
        outline(shape["side"]),
        outline(shape["top"]),
        outline(shape["lines"]),
        room,
        width,
        height,
        thickness,
        root_length,
        max(counts),
        len(counts) > 1,
        shape.get("third", 0.0),
    )


@cache
def outline(path: str) -> Outline:
    """Return a path, read. It has only M, L, C, Q and Z with absolute numbers."""
    return tuple(
        (letter, tuple(float(number) for number in re.findall(r"-?\d*\.?\d+", numbers)))
        for letter, numbers in re.findall(r"([MLCQZ])([^MLCQZ]*)", path)
    )


@cache
def _tables() -> dict[str, dict]:  # type: ignore[type-arg]
    with (Path(__file__).resolve().parent / "shapes.toml").open("rb") as file:
        return tomllib.load(file)
