"""Teeth: their modified Triadan numbers, names, roots and sides, by species.

Source of the numbering: modified Triadan system, Floyd 1991.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

Species = Literal["dog", "cat"]
SPECIES: tuple[Species, ...] = ("dog", "cat")

_TABLES = Path(__file__).resolve().parent / "species"


class Jaws(BaseModel):
    """Positions present in an upper and a lower quadrant, and where that is published."""

    model_config = ConfigDict(frozen=True)
    upper: tuple[int, ...]
    lower: tuple[int, ...]
    source: str


class Roots(BaseModel):
    """Numbers of roots by position; a position that is not listed has one."""

    model_config = ConfigDict(frozen=True)
    upper: dict[int, tuple[int, ...]]
    lower: dict[int, tuple[int, ...]]
    source: str


class NormalDepth(BaseModel):
    """Normal probing depth in mm."""

    model_config = ConfigDict(frozen=True)
    least: float
    most: float
    source: str


class Heaviest(BaseModel):
    """The greatest weight in kg that is believed."""

    model_config = ConfigDict(frozen=True)
    value: float
    source: str


class DentitionAge(BaseModel):
    """The dentition that is usual below an age in months."""

    model_config = ConfigDict(frozen=True)
    dentition: Literal["deciduous", "mixed"]
    below_months: float
    source: str


class Anatomy(BaseModel):
    """What is known of a species, one file of the folder species/: its teeth, the greatest weight
    that is believed, and its dentition by age, the youngest first."""

    model_config = ConfigDict(frozen=True)
    species: Species
    normal_probing_depth_mm: NormalDepth
    permanent: Jaws
    deciduous: Jaws
    roots: Roots
    deciduous_roots: Roots
    heaviest_kg: Heaviest
    dentition_ages: tuple[DentitionAge, ...]

    def has(self, tooth: int) -> bool:
        """Return whether the species has this tooth, permanent or deciduous."""
        return tooth in self.permanent_teeth or tooth in self.deciduous_teeth

    @property
    def permanent_teeth(self) -> tuple[int, ...]:
        """The permanent teeth in charting order (see `arch_order`)."""
        return arch_order(self.permanent, (1, 2, 3, 4))

    @property
    def deciduous_teeth(self) -> tuple[int, ...]:
        """The deciduous teeth in charting order."""
        return arch_order(self.deciduous, (5, 6, 7, 8))

    def root_counts(self, tooth: int) -> tuple[int, ...]:
        """Return the numbers of roots that this tooth may have; several where it varies."""
        roots = self.deciduous_roots if is_deciduous(tooth) else self.roots
        jaw = roots.upper if is_upper(tooth) else roots.lower
        return jaw.get(position(tooth), (1,))


@cache
def anatomy_of(species: Species) -> Anatomy:
    """Return the tables of a species."""
    with (_TABLES / f"{species}.toml").open("rb") as file:
        return Anatomy.model_validate(tomllib.load(file))


def quadrant(tooth: int) -> int:
    """Return 1 upper right, 2 upper left, 3 lower left, 4 lower right; 5-8 deciduous alike."""
    return tooth // 100


CORNER_NAMES = {1: "upper right", 2: "upper left", 3: "lower left", 4: "lower right"}
"""The corners of the mouth by the number of their permanent quadrant."""


def corner(tooth: int) -> int:
    """Return the permanent quadrant, 1 to 4, on whose side a tooth of either dentition stands."""
    return (quadrant(tooth) - 1) % 4 + 1


def other_dentition(tooth: int) -> int:
    """Return the number that the same place has in the other dentition: 604 for 204 and back. The
    species need not have it."""
    return tooth - 400 if is_deciduous(tooth) else tooth + 400


def position(tooth: int) -> int:
    """Return the position counted from the midline, 1 to 11."""
    return tooth % 100


def is_deciduous(tooth: int) -> bool:
    """Return whether the number is that of a deciduous tooth."""
    return quadrant(tooth) >= 5


def is_upper(tooth: int) -> bool:
    """Return whether the tooth stands in the upper jaw."""
    return quadrant(tooth) in (1, 2, 5, 6)


def is_left(tooth: int) -> bool:
    """Return whether the tooth stands on the animal's left."""
    return quadrant(tooth) in (2, 3, 6, 7)


def arch_order(jaws: Jaws, quadrants: tuple[int, int, int, int]) -> tuple[int, ...]:
    """Return teeth in the order of charting: upper right from the back to the midline, on to
    the upper left, then lower left from the back to the midline, on to the lower right
    (common practice, no source)."""
    upper_right, upper_left, lower_left, lower_right = quadrants
    return (
        *(upper_right * 100 + place for place in reversed(jaws.upper)),
        *(upper_left * 100 + place for place in jaws.upper),
        *(lower_left * 100 + place for place in reversed(jaws.lower)),
        *(lower_right * 100 + place for place in jaws.lower),
    )


def tooth_kind(tooth: int) -> Literal["incisor", "canine", "premolar", "molar"]:
    """Return the kind of tooth; a deciduous cheek tooth is a premolar."""
    place = position(tooth)
    if place <= 3:
        return "incisor"
    if place == 4:
        return "canine"
    return "premolar" if place <= 8 else "molar"


_ORDINALS = ("first", "second", "third", "fourth")


def tooth_name(tooth: int) -> str:
    """Return the tooth's name in words, such as "left maxillary fourth premolar"."""
    kind = tooth_kind(tooth)
    place = position(tooth)
    first = {"incisor": 1, "canine": 4, "premolar": 5, "molar": 9}[kind]
    words = [
        "left" if is_left(tooth) else "right",
        "maxillary" if is_upper(tooth) else "mandibular",
        "deciduous" if is_deciduous(tooth) else "",
        "" if kind == "canine" else _ORDINALS[place - first],
        kind,
    ]
    return " ".join(word for word in words if word)
