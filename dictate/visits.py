"""The visits of an animal, from the cases on disk: how far each came, and two side by side."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from dictate.chart.case import Case
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Event
from dictate.doubts import open_doubts
from dictate.errors import DictateError
from dictate.history.comparison import Comparison, compare
from dictate.history.same_animal import EarlierVisits, Judgement, earlier_visits, judge
from dictate.history.series import DatedChart
from dictate.store.cases import CaseStore


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
    """A visit beside an earlier one: whether they are of one animal, and what changed."""

    earlier: Visit
    later: Visit
    judgement: Judgement
    comparison: Comparison


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
    return SideBySide(earlier, later, judge(later.case, earlier.case), found)


def dated_charts(store: CaseStore, case: Case) -> tuple[DatedChart, ...]:
    """Return the charts of all visits of the animal up to this one, the earliest first, without
    those that only may be of it."""
    ids = [each.case.id for each in reversed(visits_before(store, case).same)]
    visits = [stored_visit(store, case_id) for case_id in (*ids, case.id)]
    return tuple(DatedChart(day_of_visit(each.case), each.chart) for each in visits)
