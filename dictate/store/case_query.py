"""What cases are looked for: words, and days in words such as 2026-05."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from dictate.chart.case import shown
from dictate.errors import DictateError
from dictate.text import folded

_DAY_OR_MONTH = re.compile(r"\d{4}-\d{2}(-\d{2})?", re.ASCII)


@dataclass(frozen=True)
class CaseQuery:
    """What is looked for; "" and None mean: any.

    Every one of `words` (folded) has to be in a case's animal, species, breed, owner reference,
    clinician or id, in part. `since` and `until` bound when it was opened: from the first on, and
    before the second; both have time zones.
    """

    words: tuple[str, ...] = ()
    species: str = ""
    clinician: str = ""
    since: datetime | None = None
    until: datetime | None = None


def query_of(text: str) -> CaseQuery:
    """Return what a typed line looks for. A word that is a day (2026-05-04) or a month (2026-05),
    by the clock of this machine, looks for cases opened in it; any other word is a word."""
    spans = {word: _span(word) for word in folded(text).split()}
    query = CaseQuery(words=tuple(word for word, span in spans.items() if span is None))
    for span in spans.values():
        query = within(query, *span) if span else query
    return query


def within(query: CaseQuery, first: date | None, last: date | None) -> CaseQuery:
    """Return a query for what also was opened from a day to another, both included."""
    since = _start(first) if first else None
    until = _start(last + timedelta(days=1)) if last and last < date.max else None
    return replace(
        query,
        since=max((each for each in (since, query.since) if each), default=None),
        until=min((each for each in (until, query.until) if each), default=None),
    )


def day_of(text: str, last: bool = False) -> date:
    """Return the day that a person wrote, 2026-05-04, or the first or the last day of a month,
    2026-05. Raises DictateError where it is none."""
    span = _span(text.strip())
    if span is None:
        raise DictateError(f"{shown(text)} is no day: write one such as 2026-05-04 or 2026-05.")
    return span[1 if last else 0]


def _span(word: str) -> tuple[date, date] | None:
    """Return the first and the last day that a word names, None where it names none."""
    if not _DAY_OR_MONTH.fullmatch(word):
        return None
    try:
        if len(word) == len("2026-05-04"):
            return (date.fromisoformat(word),) * 2
        first = date.fromisoformat(f"{word}-01")
        after = (first + timedelta(days=31)).replace(day=1)
        return first, after - timedelta(days=1)
    except (ValueError, OverflowError):
        return None


def _start(day: date) -> datetime:
    """Return when a day begins by the clock of this machine."""
    return datetime.combine(day, time()).astimezone()
