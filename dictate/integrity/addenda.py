"""Addenda: what was changed in a chart after it was closed as final, before and after."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from dictate.chart.case import Case
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.chart.events import Closed, Event, Reopened


@dataclass(frozen=True)
class Change:
    """What stood before and what stands after, in words; None where nothing did or does."""

    before: str | None
    after: str | None


@dataclass(frozen=True)
class Addendum:
    """What was changed between the opening of a closed chart and its next closing, which has a
    time and a name; both are None where it was not closed again."""

    opened: datetime
    closed: datetime | None
    by: str | None
    changes: tuple[Change, ...]


def addenda(case: Case, events: Sequence[Event]) -> tuple[Addendum, ...]:
    """Return the addenda of a case in order, none where it was never opened again."""
    blank = blank_chart(case)
    found = []
    for place, event in enumerate(events):
        if not isinstance(event.what, Reopened):
            continue
        closing = next((each for each in events[place:] if isinstance(each.what, Closed)), None)
        end = closing.sequence if closing else len(events)
        before, after = fold(blank, events[:place]), fold(blank, events[:end])
        by = closing.what.by if closing and isinstance(closing.what, Closed) else None
        closed = closing.time if closing else None
        found.append(Addendum(event.time, closed, by, tuple(_changes(before, after))))
    return tuple(found)


def _changes(before: Chart, after: Chart) -> Iterable[Change]:
    was, now = _standing(before), _standing(after)
    for place in dict.fromkeys((*was, *now)):
        if was.get(place) != now.get(place):
            yield Change(was.get(place), now.get(place))


def _standing(chart: Chart) -> Mapping[Hashable, str]:
    """Return all that a record keeps of a chart, in words, each by what it is about."""
    standing: dict[Hashable, str] = {
        each.place: f"{each.tooth} {each.words()}" for each in chart.findings
    }
    standing |= {each.identity: each.words() for each in chart.observations}
    standing |= {("note", number): f"note: {each.text}" for number, each in enumerate(chart.notes)}
    standing |= {
        (
            "decision",
            each.tooth,
            each.rule,
        ): f"{each.tooth} {each.decision}: {each.text or each.rule}"
        for each in chart.decisions
    }
    return standing | {("dentition",): f"{chart.dentition} dentition"}
