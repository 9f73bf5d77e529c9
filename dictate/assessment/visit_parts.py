"""Which parts of a visit beside the teeth have not been examined, and what of them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

from dictate.assessment.tooth import teeth_in
from dictate.assessment.views import VIEW
from dictate.chart.chart import Chart
from dictate.chart.observation import NORMAL, Observation, ObservationKind, observation_kinds


class PartRow(BaseModel):
    """One row of visit_parts.toml: what the examination of a part asks for. `kinds` are rows of
    the table of observations, or "all" for every one of the section."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    title: str
    kinds: tuple[str, ...] | Literal["all"]
    source: str

    def kinds_of(self, section: str) -> tuple[ObservationKind, ...]:
        """Return the kinds of observation that are asked for in a section."""
        rows = observation_kinds()
        if self.kinds == "all":
            return tuple(row for row in rows.values() if row.section == section)
        return tuple(rows[kind] for kind in self.kinds)


@dataclass(frozen=True)
class SectionLeft:
    """A part of the visit that is not examined, or not in full: what is lacking, by the titles of
    the table of observations, with the side where only one is. `begun` where some of it is
    examined. `title` is the part as it is said aloud."""

    section: str
    title: str
    lacking: tuple[str, ...]
    begun: bool


@cache
def part_rows() -> Mapping[str, PartRow]:
    """Return the table of the parts of a visit by section, in the order of the file."""
    with (Path(__file__).resolve().parent / "visit_parts.toml").open("rb") as file:
        return {section: PartRow(**row) for section, row in tomllib.load(file).items()}


def sections_left(chart: Chart) -> tuple[SectionLeft, ...]:
    """Return the parts of the visit of which something is left, in the order of a visit."""
    parts = (_left_of(chart, section, row) for section, row in part_rows().items())
    return tuple(part for part in parts if part.lacking)


def _left_of(chart: Chart, section: str, row: PartRow) -> SectionLeft:
    asked = row.kinds_of(section)
    lacking = [words for kind in asked if (words := _lacking_of(chart, kind))]
    kinds_seen = {each.kind for each in chart.observations}
    begun = any(kind.kind in kinds_seen for kind in asked)
    return SectionLeft(section, row.title, tuple(lacking), begun)


def _lacking_of(chart: Chart, kind: ObservationKind) -> str | None:
    """Return the title of a kind that was not observed, with the side that was not. A lesion of a
    part says of it what was seen."""
    if kind.kind == VIEW and any(tooth.radiographed for tooth in teeth_in(chart)):
        return None
    if not kind.paired:
        return None if _is_seen(chart, kind, None) else kind.title
    sides = [side for side in ("left", "right") if not _is_seen(chart, kind, side)]
    if len(sides) == 2:
        return kind.title
    return f"{kind.title} ({sides[0]})" if sides else None


def _is_seen(chart: Chart, kind: ObservationKind, side: str | None) -> bool:
    if any(each.kind == kind.kind and side in (None, each.place) for each in chart.observations):
        return True
    normal = Observation(kind=kind.kind, value=NORMAL, place=side)
    return kind.can_be_normal and any(normal.contradicts(each) for each in chart.observations)
