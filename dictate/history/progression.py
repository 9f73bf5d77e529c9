"""What became of an animal's mouth over its visits: depths by site, teeth lost, indices, stages.

- A site that a visit did not probe is a gap: never filled in, never a change.
- Depths that differ by less than `CHANGE_MM` are within the error of probing, whatever lies
  between them; a site that grows by 1 mm a visit is deeper since the first.
- Means of an index are set beside each other only where they were graded on one scale.
- A tooth is lost where it was there and then was not, or was extracted. Deciduous teeth are shed.

That the visits are of one animal is for the caller to know.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Literal

from dictate.assessment.staging import PeriodontalStage, stages
from dictate.assessment.summary import INDICES, IndexMean, index_mean
from dictate.assessment.tooth import charting_order, number_of, tooth_in
from dictate.chart.anatomy import is_deciduous
from dictate.chart.finding import SIX_SITES, same_place
from dictate.errors import DictateError
from dictate.history.comparison import CHANGE_MM
from dictate.history.presence import Presence, ToothChange, presence_of, tooth_change
from dictate.history.series import DatedChart

Trend = Literal["deeper", "less deep", "within error"]


@dataclass(frozen=True)
class SiteDepths:
    """The depth at one place of a tooth at each visit, in mm, None where it was not probed;
    `place` is the one name of a site (`same_place`), None where none was stated. At least one
    visit probed it."""

    tooth: int
    place: str | None
    depths: tuple[float | None, ...]

    @property
    def measured(self) -> tuple[float, ...]:
        """The depths that were measured, the earliest first."""
        return tuple(depth for depth in self.depths if depth is not None)

    @property
    def latest(self) -> float:
        """The depth that was measured last."""
        return self.measured[-1]

    @property
    def measured_now(self) -> bool:
        """Whether the last visit probed it."""
        return self.depths[-1] is not None

    @property
    def since_first(self) -> float | None:
        """How much deeper the last measurement is than the first, in mm; None without two."""
        measured = self.measured
        return round(measured[-1] - measured[0], 6) if len(measured) > 1 else None

    @property
    def since_last(self) -> float | None:
        """How much deeper the last measurement is than the one before it, in mm; None without
        two."""
        measured = self.measured
        return round(measured[-1] - measured[-2], 6) if len(measured) > 1 else None

    @property
    def changed(self) -> bool:
        """Whether it changed by more than the error of probing, since the first or the last."""
        return any(trend_of(by) in ("deeper", "less deep") for by in self._changes)

    @property
    def deepest_change(self) -> float:
        """The greater of the two changes, in mm, 0 without any: for an order by gravity."""
        return max((by for by in self._changes if by is not None), default=0.0)

    @property
    def _changes(self) -> tuple[float | None, float | None]:
        return self.since_first, self.since_last


@dataclass(frozen=True)
class ToothLost:
    """A permanent tooth that is not there any more: `by` is the visit (its place among them) that
    first found it gone or took it out, `after` the last one before that found it there, None where
    none did."""

    tooth: int
    after: int | None
    by: int
    extracted: bool


@dataclass(frozen=True)
class IndexMeans:
    """The mean of an index at each visit on one scale, None where the visit graded on another;
    an `IndexMean` without a mean where it was not graded."""

    kind: str
    scale: int
    means: tuple[IndexMean | None, ...]


@dataclass(frozen=True)
class Progression:
    """An animal's visits, the earliest first. All that goes by visit has one entry for each of
    `days`; teeth are in charting order. `stages` has the stage of every tooth that had one at a
    visit. `contradictions` are teeth that came back, which makes one doubt the tooth or the animal.
    """

    days: tuple[date, ...]
    normal_mm: float
    sites: tuple[SiteDepths, ...]
    lost: tuple[ToothLost, ...]
    contradictions: tuple[ToothChange, ...]
    indices: tuple[IndexMeans, ...]
    stages: tuple[tuple[PeriodontalStage, ...], ...]

    def stages_of(self, tooth: int) -> tuple[PeriodontalStage | None, ...]:
        """Return the stage of a tooth at each visit, None where it had none."""
        by_visit = ({each.tooth: each for each in visit} for visit in self.stages)
        return tuple(visit.get(tooth) for visit in by_visit)


@dataclass(frozen=True)
class AnimalHistory:
    """What is shown of an animal's visits; `notes` are sentences about what is not in it.
    `visits` is how many there are, of which `progression` may have the last ones only."""

    progression: Progression
    notes: tuple[str, ...]
    visits: int


def trend_of(by_mm: float | None) -> Trend | None:
    """Return what a change in depth is, None where there is none to speak of."""
    if by_mm is None:
        return None
    if abs(by_mm) < CHANGE_MM:
        return "within error"
    return "deeper" if by_mm > 0 else "less deep"


def progression(visits: Sequence[DatedChart]) -> Progression:
    """Return what became of a mouth over these visits of one animal, in whatever order they are.
    Raises DictateError where there is none, or they are of two species."""
    ordered = sorted(visits, key=lambda visit: visit.day)
    if not ordered:
        raise DictateError("There is no visit to show: name a case.")
    if len({visit.chart.species for visit in ordered}) > 1:
        raise DictateError("The visits are of two species: name cases of one animal.")
    teeth = charting_order(
        ordered[-1].chart, {tooth for visit in ordered for tooth in visit.chart.charted_teeth}
    )
    return Progression(
        days=tuple(visit.day for visit in ordered),
        normal_mm=ordered[-1].chart.anatomy.normal_probing_depth_mm.most,
        sites=tuple(site for tooth in teeth for site in _sites(ordered, tooth)),
        lost=tuple(lost for tooth in teeth for lost in _lost(ordered, tooth)),
        contradictions=tuple(each for tooth in teeth for each in _back_again(ordered, tooth)),
        indices=tuple(_indices(ordered)),
        stages=tuple(stages(visit.chart) for visit in ordered),
    )


def _sites(visits: Sequence[DatedChart], tooth: int) -> Iterator[SiteDepths]:
    by_visit = [_depths(visit, tooth) for visit in visits]
    places = {place for depths in by_visit for place in depths}
    for place in sorted(places, key=_place_order):
        yield SiteDepths(tooth, place, tuple(depths.get(place) for depths in by_visit))


def _depths(visit: DatedChart, tooth: int) -> dict[str | None, float]:
    pockets = (each for each in visit.chart.on(tooth) if each.kind == "pocket")
    values = ((same_place(each.site), number_of(each)) for each in pockets)
    return {place: value for place, value in values if value is not None}


def _place_order(place: str | None) -> tuple[int, str]:
    known = SIX_SITES.index(place) if place in SIX_SITES else len(SIX_SITES)
    return known, place or ""


def _known(visits: Sequence[DatedChart], tooth: int) -> list[tuple[int, Presence]]:
    """Return whether a tooth was there, at each visit that says so."""
    there = (presence_of(tooth_in(visit.chart, tooth)) for visit in visits)
    return [(visit, presence) for visit, presence in enumerate(there) if presence != "unknown"]


def _back_again(visits: Sequence[DatedChart], tooth: int) -> Iterator[ToothChange]:
    """Yield where a tooth came back, from each visit that knows of it to the next."""
    for (then, _), (now, _) in pairwise(_known(visits, tooth)):
        before, after = visits[then].chart, visits[now].chart
        change = tooth_change(tooth_in(before, tooth), tooth_in(after, tooth))
        if change is not None and change.contradicts:
            yield change


def _lost(visits: Sequence[DatedChart], tooth: int) -> Iterator[ToothLost]:
    """Yield when a permanent tooth was lost, once; nothing where it came back."""
    known = _known(visits, tooth)
    if is_deciduous(tooth) or not known or known[-1][1] not in ("missing", "extracted"):
        return
    there = [visit for visit, presence in known if presence not in ("missing", "extracted")]
    gone = [each for each in known if not there or each[0] > there[-1]]
    extracted = [visit for visit, presence in gone if presence == "extracted"]
    by, presence = gone[0]
    if there and known[len(known) - len(gone) - 1][1] == "present":
        yield ToothLost(tooth, there[-1], by, presence == "extracted")
    elif extracted:
        yield ToothLost(tooth, None, extracted[0], extracted=True)


def _indices(visits: Sequence[DatedChart]) -> Iterator[IndexMeans]:
    """Yield the means of each index by scale, where any visit graded it."""
    for kind in INDICES:
        for scale in sorted({visit.chart.index_scale for visit in visits}):
            means = tuple(
                index_mean(visit.chart, kind) if visit.chart.index_scale == scale else None
                for visit in visits
            )
            if any(mean is not None and mean.mean is not None for mean in means):
                yield IndexMeans(kind, scale, means)
