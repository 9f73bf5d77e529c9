"""Utterances that wait for an answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from dictate.chart.events import Event, Heard, Settled
from dictate.statement_data import clear, kind_of, on_tooth


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
    return [*teeth, *(on_tooth(each, None) for each in findings)]
