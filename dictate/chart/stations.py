"""Several stations on one case: which of its events are a station's own, and what that means.

The findings are those of all. What is in hand, and the part of the visit that is listened for, are
a station's own: what is said in one room without a tooth never goes to a tooth that was named in
another.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from dictate.chart.chart import Chart, fold
from dictate.chart.events import Event, Settled
from dictate.errors import DictateError


class BehindError(DictateError):
    """Another station charted meanwhile: `events` are all that the case holds beyond what was
    seen. What was to be kept was not."""

    def __init__(self, case_id: str, events: Sequence[Event]) -> None:
        super().__init__(
            f"Case {case_id} is being charted elsewhere: look at what was charted there, "
            "then say it again."
        )
        self.events = tuple(events)


def own_events(events: Sequence[Event], others: Collection[int]) -> list[Event]:
    """Return the events but those of other stations, whose sequence numbers are `others`; answers
    are everybody's."""
    if not others:
        return list(events)
    return [e for e in events if e.sequence not in others or isinstance(e.what, Settled)]


def chart_at_station(blank: Chart, events: Sequence[Event], others: Collection[int]) -> Chart:
    """Return the chart of all events with what is in hand here. A station that has charted
    nothing has nothing in hand, and is in the part of the visit that was begun last."""
    chart = fold(blank, events)
    if not others:
        return chart
    if all(each.sequence in others for each in events):
        return with_hand_of(chart, blank.model_copy(update={"context": chart.context}))
    return with_hand_of(chart, fold(blank, own_events(events, others)))


def with_hand_of(chart: Chart, here: Chart) -> Chart:
    """Return a chart with what is in hand, and the part of the visit, of another."""
    return chart.model_copy(
        update={
            "tooth_in_hand": here.tooth_in_hand,
            "several_in_hand": here.several_in_hand,
            "context": here.context,
        }
    )
