"""Addenda and seals of a record, for people."""

from __future__ import annotations

from typing import NamedTuple

from dictate.chart.events import Closed
from dictate.integrity.addenda import addenda
from dictate.integrity.seal import fingerprint
from dictate.report.case_lines import moment
from dictate.report.record import Record

NOTHING = "nothing"


class AddendumLine(NamedTuple):
    """An addendum: its heading, and what stood before and stands after, change by change."""

    heading: str
    changes: tuple[tuple[str, str], ...]


def addendum_lines(record: Record) -> list[AddendumLine]:
    """Return the addenda in order, none where a closed chart was never opened again."""
    lines = []
    for number, each in enumerate(addenda(record.case, record.events), start=1):
        closed = "not closed again"
        if each.closed is not None:
            by = f" by {each.by}" if each.by else ""
            closed = f"closed again{by} on {moment(each.closed)}"
        heading = f"Addendum {number}: opened on {moment(each.opened)}, {closed}"
        changes = ((one.before or NOTHING, one.after or NOTHING) for one in each.changes)
        lines.append(AddendumLine(heading, tuple(changes)))
    return lines


def seal_lines(record: Record) -> list[str]:
    """Return a line for each sealed closing: who, when, and the fingerprint of the key."""
    lines = []
    for event in record.events:
        if isinstance(event.what, Closed) and event.what.seal is not None:
            by = f" by {event.what.by}" if event.what.by else ""
            key = fingerprint(event.what.seal.key)
            lines.append(f"Sealed{by} on {moment(event.time)} with the key {key}")
    return lines
