"""Utterances that wait for an answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from dictate.chart.events import Event, Heard, Settled
from dictate.statement_data import clear, kind_of, names_tooth, on_tooth

CHOICES = ("tooth", "teeth")
"""The happenings that take teeth in hand."""


@dataclass(frozen=True)
class Doubt:
    """An utterance that waits for an answer. `number` is that of its Heard event; `follows` the
    number of the doubt whose tooth it is about, where it names none itself."""

    number: int
    heard: Heard
    follows: int | None = None

    def holds(self, statements: Sequence[dict[str, Any]]) -> bool:
        """Return whether it asks about these very statements."""
        return clear(self.heard.statements) == clear(statements)


def numbered(events: Iterable[Event]) -> Iterator[tuple[int, Heard]]:
    """Yield the utterances in order, each with the sequence number of its event."""
    for event in events:
        if isinstance(event.what, Heard):
            yield event.sequence, event.what


def open_doubts(events: Sequence[Event]) -> tuple[Doubt, ...]:
    """Return the doubts that nobody has settled, the one asked last at the end."""
    settled = {event.what.of for event in events if isinstance(event.what, Settled)}
    return tuple(
        Doubt(number, heard, next((each.get("follows") for each in heard.statements), None))
        for number, heard in numbered(events)
        if heard.outcome == "query" and number not in settled
    )


def with_followers(doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    """Return the doubt asked last, with the one it follows and all that follow that one."""
    first = doubts[-1].follows or doubts[-1].number
    return tuple(each for each in doubts if first in (each.number, each.follows))


def held(asked: Iterable[Doubt]) -> list[dict[str, Any]]:
    """Return the statements that doubts hold, in order."""
    return [each for doubt in asked for each in clear(doubt.heard.statements)]


def put_right(
    asked: Sequence[Doubt], statements: Sequence[dict[str, Any]]
) -> list[dict[str, Any]] | None:
    """Return what doubts hold once a correction has put it right: a tooth alone moves what is
    held to that tooth, a finding stands in the place of those of its kind. None where they name
    several teeth, so that nobody can tell which is meant."""
    meant = [each for each in clear(statements) if each["statement"] != "correction"]
    waiting = held(asked)
    if sum("finding" not in each for each in waiting) > 1:
        return None
    if any(each["statement"] == "tooth" for each in meant):
        waiting = [on_tooth(each, None) for each in waiting if "finding" in each]
    corrected = {kind_of(each) for each in meant if "finding" in each}
    kept = [each for each in waiting if kind_of(each) not in corrected]
    teeth = [each for each in (*meant, *kept) if "finding" not in each]
    findings = [each for each in (*kept, *meant) if "finding" in each]
    if not teeth:
        return findings
    return [*teeth, *(on_tooth(each, None) for each in findings)]


def is_about(asked: Sequence[Doubt], statements: Iterable[dict[str, Any]]) -> bool:
    """Return whether doubts hold a finding of the tooth and the kind of one of the statements."""
    places = {_place(each) for each in held(asked) if "finding" in each}
    return any(_place(each) in places for each in statements if "finding" in each)


def _place(statement: dict[str, Any]) -> tuple[int | None, str]:
    return statement["finding"]["tooth"], statement["finding"]["kind"]


def last_choice(events: Iterable[Event]) -> int:
    """Return the sequence number of the event that chose what is in hand, 0 if none did."""
    return max((each.sequence for each in events if each.what.event in CHOICES), default=0)


def doubt_about_tooth(events: Sequence[Event]) -> Doubt | None:
    """Return the open doubt that may have changed the tooth in hand, if nothing certain has
    chosen a tooth since: what is said without a tooth belongs to it."""
    since = last_choice(events)
    naming = [
        each
        for each in open_doubts(events)
        if each.number > since and names_tooth(each.heard.statements)
    ]
    return naming[-1] if naming else None


def tooth_was_refused(events: Sequence[Event]) -> bool:
    """Return whether a rule refused what named a tooth, and none was chosen since: what follows
    without a tooth was not meant for the tooth in hand."""
    since = last_choice(events)
    return any(
        number > since
        and heard.outcome == "refused"
        and heard.rule is not None
        and names_tooth(heard.statements)
        for number, heard in numbered(events)
    )
