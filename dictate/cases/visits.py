"""The visits of an animal, from the cases on disk: how far each came, and two side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from dictate.chart.case import Case
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Event
from dictate.errors import DictateError
from dictate.history.comparison import Comparison, compare
from dictate.history.progression import AnimalHistory, progression
from dictate.history.same_animal import (
    EarlierVisits,
    Judgement,
    agreeing,
    earlier_visits,
    judge,
)
from dictate.history.series import DatedChart
from dictate.session.doubts import open_doubts
from dictate.store.cases import CaseStore

MOST_BESIDE = 6
"""How many visits at most are read for the history beside a comparison."""


@dataclass(frozen=True)
class Visit:
    """A case with its events and the chart that they come to."""

    case: Case
    events: tuple[Event, ...]
    chart: Chart

    @property
    def last_changed(self) -> datetime:
        """When something was last heard or typed; when it was opened where nothing was."""
        return self.events[-1].time if self.events else self.case.opened

    @property
    def teeth_examined(self) -> int:
        """How many of the teeth to be examined were."""
        return sum(self.chart.place_examined(tooth) for tooth in self.chart.expected_teeth)

    @property
    def doubts(self) -> int:
        """How many utterances wait for an answer."""
        return len(open_doubts(self.events))


@dataclass(frozen=True)
class SideBySide:
    """A visit beside an earlier one: whether they are of one animal, what changed, and what became
    of the mouth over the last visits, None where they are of two animals."""

    earlier: Visit
    later: Visit
    judgement: Judgement
    comparison: Comparison
    history: AnimalHistory | None = None


def day_of_visit(case: Case) -> date:
    """Return the day that a case was opened, by the clock of this machine."""
    return case.opened.astimezone().date()


def stored_visit(store: CaseStore, case_id: str) -> Visit:
    """Return the visit of a case; raises DictateError where there is none or it cannot be read."""
    case, events = store.load(case_id)
    return Visit(case, events, fold(blank_chart(case), events))


def visits_before(store: CaseStore, case: Case) -> EarlierVisits:
    """Return the earlier visits of the animal, and those that may be."""
    return earlier_visits(case, store.namesakes_before(case))


def side_by_side(store: CaseStore, later: Visit, earlier_id: str) -> SideBySide:
    """Return a visit beside an earlier one that was named, whosever it is: the judgement says
    whether they are of one animal. Raises DictateError where they cannot be compared."""
    earlier = stored_visit(store, earlier_id)
    if earlier.case.id == later.case.id:
        raise DictateError("A case cannot be compared with itself: name an earlier one.")
    if earlier.case.opened >= later.case.opened:
        raise DictateError(
            f"{earlier.case.id} was not opened before {later.case.id}: name the later case first."
        )
    between = [
        stored_visit(store, each.case.id).chart
        for each in visits_before(store, later.case).same
        if each.case.opened > earlier.case.opened
    ]
    found = compare(earlier.chart, later.chart, between)
    judgement = judge(later.case, earlier.case)
    history = None
    if judgement.sameness != "different":
        history = animal_history(store, later, [earlier_id], most=MOST_BESIDE)
    return SideBySide(earlier, later, judgement, found, history)


def dated_charts(store: CaseStore, case: Case) -> tuple[DatedChart, ...]:
    """Return the charts of all visits of the animal up to this one, the earliest first, without
    those that only may be of it."""
    ids = [each.case.id for each in reversed(visits_before(store, case).same)]
    visits = [stored_visit(store, case_id) for case_id in (*ids, case.id)]
    return tuple(DatedChart(day_of_visit(each.case), each.chart) for each in visits)


def animal_history(
    store: CaseStore, visit: Visit, named: Sequence[str] = (), most: int | None = None
) -> AnimalHistory:
    """Return what became of the animal's mouth up to a visit, over the last `most` visits: those
    that are certainly of it, and those of `named` that may be. A visit that cannot be read is left
    out, which a note says.

    Raises DictateError where a named case is of another animal, later, or not there.
    """
    before = agreeing(visits_before(store, visit.case))
    chosen = [each.case for each in before.same]
    chosen += [_named(store, visit, each) for each in named if each not in _ids(chosen)]
    chosen.sort(key=lambda case: case.opened)
    notes = [_left_out(before, named)] if set(_ids_of(before)) - set(named) else []
    visits = []
    for case in chosen[-(most - 1) :] if most else chosen:
        try:
            visits.append(stored_visit(store, case.id))
        except DictateError as error:
            notes.append(f"{case.id} of {day_of_visit(case)} is not in it: {error}")
    visits.append(visit)
    waiting = [f"{each.case.id} ({each.doubts})" for each in visits if each.doubts]
    if waiting:
        notes.append(f"Not in it: utterances that wait for an answer, in {', '.join(waiting)}.")
    dated = [DatedChart(day_of_visit(each.case), each.chart) for each in visits]
    return AnimalHistory(progression(dated), tuple(notes), len(chosen) + 1)


def earlier_history(store: CaseStore, case_id: str) -> AnimalHistory | None:
    """Return what became of the animal's mouth up to a case, None without an earlier visit that
    is certainly of it and can be read. Raises DictateError where the case cannot be read."""
    visit = stored_visit(store, case_id)
    history = animal_history(store, visit)
    return history if len(history.progression.days) > 1 else None


def _ids(cases: Sequence[Case]) -> list[str]:
    return [each.id for each in cases]


def _ids_of(before: EarlierVisits) -> list[str]:
    return _ids([each.case for each in before.possible])


def _left_out(before: EarlierVisits, named: Sequence[str]) -> str:
    """Return which visits may be of the animal and are left out, in a sentence."""
    others = [each.case for each in before.possible if each.case.id not in named]
    listed = ", ".join(f"{each.id} of {day_of_visit(each)}" for each in others[:MOST_BESIDE])
    more = len(others) - MOST_BESIDE
    return (
        f"Not in it, since nobody said that they are of this animal: {listed}"
        f"{f' and {more} more' if more > 0 else ''}."
    )


def _named(store: CaseStore, visit: Visit, case_id: str) -> Case:
    """Return a case that a person takes to be of the animal, where that can be."""
    case, _ = store.load(case_id)
    if case.id == visit.case.id or case.opened >= visit.case.opened:
        raise DictateError(
            f"{case_id} was not opened before {visit.case.id}: name the last case first."
        )
    judgement = judge(visit.case, case)
    if judgement.sameness == "different":
        raise DictateError(
            f"{case_id} is of another animal by what is stated ({judgement.ground}): leave it out."
        )
    return case
