"""What is observed beside the teeth: of the head, the mouth, the soft tissues, the views taken and
the blocks given."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

Section = Literal["head", "mouth", "soft_tissue", "radiographs", "treatment"]

NORMAL = "normal"
"""The term that says that nothing is wrong, of every kind that has it."""


class ObservationKind(BaseModel):
    """One row of observations.toml.

    `value` is a "grade", one of `terms`, or "none". `places` are where it may be; `paired` ones
    are named without a side for both sides, and `placed` ones must be named. `several` terms may
    stand together at one place, but none beside "normal". `size`: it may carry one or two
    dimensions in mm. `colours` and `surfaces`: what may be said of it. `agents`: it may carry an
    agent and a volume in mL. `near_tooth`: it may name the tooth that it lies at. `lesion_places`:
    a lesion there speaks against "normal"; of a paired part they are named without the side.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    kind: str
    title: str
    section: Section
    value: Literal["grade", "term", "none"]
    source: str
    terms: dict[str, str] = {}
    most: int | Literal["scale"] = 0
    places: tuple[str, ...] = ()
    paired: bool = False
    placed: bool = False
    several: bool = False
    size: bool = False
    colours: tuple[str, ...] = ()
    surfaces: tuple[str, ...] = ()
    agents: bool = False
    near_tooth: bool = False
    lesion_places: tuple[str, ...] = ()

    @property
    def can_be_normal(self) -> bool:
        """Whether "examination normal" covers it."""
        return NORMAL in self.terms


@cache
def observation_kinds() -> dict[str, ObservationKind]:
    """Return the table of observations by name, in the order of the file."""
    with (Path(__file__).resolve().parent / "observations.toml").open("rb") as file:
        rows = tomllib.load(file)
    return {kind: ObservationKind(kind=kind, **row) for kind, row in rows.items()}


class Observation(BaseModel):
    """What was observed: `value` is a grade or a term, `place` one of its kind's places;
    `size_mm` has one or two dimensions in mm; `volume_ml` is in mL. `covered` where it was not
    spoken for itself but covered by "examination normal"."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    kind: str
    value: int | str | None = None
    place: str | None = None
    tooth: int | None = None
    size_mm: tuple[float, ...] = ()
    colour: str | None = None
    surface: str | None = None
    agent: str | None = None
    volume_ml: float | None = None
    covered: bool = False

    @property
    def row(self) -> ObservationKind:
        """Its row of the table of observations."""
        return observation_kinds()[self.kind]

    @property
    def identity(self) -> tuple[object, ...]:
        """What it is an observation of: two of one identity contradict or repeat each other."""
        told_apart = self.value if self.row.several else None
        return self.kind, self.place, self.tooth, told_apart, self.agent

    def contradicts(self, other: Observation) -> bool:
        """Return whether one of the two says that a part is normal and the other that it is
        not."""
        return self._denies(other) or other._denies(self)

    def _denies(self, other: Observation) -> bool:
        if self.value != NORMAL or other.value == NORMAL:
            return False
        if (self.kind, self.place) == (other.kind, other.place):
            return True
        side = f"{self.place}_" if self.place else ""
        return other.place in {f"{side}{place}" for place in self.row.lesion_places}

    def words(self) -> str:
        """Return it in words for people, such as "left lymph node enlarged"."""
        parts = [
            self.place.replace("_", " ") if self.place else None,
            self.row.title[:1].lower() + self.row.title[1:],
            self.value_words,
            *self.details,
        ]
        return " ".join(str(part) for part in parts if part is not None)

    @property
    def value_words(self) -> int | str | None:
        """Its grade, or its term in words."""
        return self.row.terms.get(str(self.value), self.value)

    @property
    def details(self) -> tuple[str, ...]:
        """What else is stated of it, in words: at which tooth, how large, how it looks, what was
        given."""
        size = " × ".join(f"{length:g}" for length in self.size_mm)
        stated = (
            f"at {self.tooth}" if self.tooth else None,
            f"{size} mm" if size else None,
            self.colour,
            self.surface,
            self.agent,
            None if self.volume_ml is None else f"{self.volume_ml:g} mL",
        )
        return tuple(each for each in stated if each is not None)
