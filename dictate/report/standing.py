"""How far a record has come: a draft, or closed as final, by whom and when."""

from __future__ import annotations

from datetime import datetime

from dictate.chart.chart import standing_utterances
from dictate.chart.events import Closed, Event, Reopened
from dictate.report.case_lines import moment
from dictate.report.record import Record


def standing(record: Record) -> str:
    """Return the banner of a document: "Draft: not closed", or who closed the record and when."""
    steps = [
        event
        for utterance in standing_utterances(record.events)
        for event in utterance
        if isinstance(event.what, Closed | Reopened)
    ]
    if not steps:
        return "Draft: not closed"
    last = steps[-1]
    if isinstance(last.what, Reopened):
        return f"Draft: not closed. Opened again on {moment(last.time)}"
    return _closed(last)


def _closed(event: Event) -> str:
    by = event.what.by if isinstance(event.what, Closed) else ""
    return f"Closed as final{f' by {by}' if by else ''} on {moment(event.time)}"


def last_entry(record: Record) -> datetime:
    """Return the time of the last thing that happened; of the opening where nothing has."""
    return record.events[-1].time if record.events else record.case.opened
