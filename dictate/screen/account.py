"""What became of each utterance, in words."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from dictate.chart.anatomy import Anatomy
from dictate.chart.events import Event, Happening, Heard, Outcome, Redone, Settled, Undone
from dictate.screen.happenings import happening_words, statement_words
from dictate.session.doubts import Doubt, with_followers
from dictate.session.statement_words import READINGS
from dictate.text import harmless

SIGN_OF: dict[Outcome, str] = {"charted": "✓", "query": "?", "refused": "✗"}

_ANSWERS = {"confirmed": "confirmed", "rejected": "set aside", "repeated": "said again"}


_WAITS = "waits for yes or no"


@dataclass(frozen=True)
class Account:
    """An utterance, what it became or why it did not, and what befell it since."""

    outcome: Outcome
    words: str
    result: str
    since: str | None = None


def latest_accounts(
    events: Sequence[Event], most: int, anatomy: Anatomy, others: Collection[int] = ()
) -> list[Account]:
    """Return the last utterances, the latest first; those whose numbers are among `others` are of
    another station."""
    groups = [list(group) for _, group in groupby(events, key=lambda event: event.utterance)]
    words = {event.sequence: event.what.text for event in events if isinstance(event.what, Heard)}
    since = _since(events)
    accounts = []
    for group in reversed(groups[-most:]):
        heard = group[0].what
        if isinstance(heard, Heard):
            later = since.get(group[0].sequence)
            result = _result(heard, [event.what for event in group[1:]], words, anatomy)
            if heard.outcome == "query" and later is None:
                result = _WAITS
            said = heard.text
            if group[0].sequence in others:
                said = f"another station: {heard.text}"
                result = "asked there" if result == _WAITS else result
            accounts.append(Account(heard.outcome, said, result, later))
    return accounts


def _since(events: Sequence[Event]) -> dict[int, str]:
    """Return what befell utterances after they were heard, by number."""
    since: dict[int, str] = {}
    for event in events:
        match event.what:
            case Settled(of=number, answer=answer, chosen=chosen):
                which = f", the {READINGS[chosen]}" if chosen in READINGS else ""
                since[number] = _ANSWERS[answer] + which
            case Undone(of=number):
                since[number] = "taken back"
            case Redone(of=number):
                since.pop(number, None)
    return since


def _result(
    heard: Heard, happenings: Sequence[Happening], words: Mapping[int, str], anatomy: Anatomy
) -> str:
    reason = heard.reason or ""
    if heard.outcome != "charted":
        return reason
    became = happening_words(happenings, words, anatomy)
    return f"{became} ({reason})" if became and reason else became or reason


def asked_together(doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    """Return the doubts that the next answer settles: the one asked last, with the one that it
    follows and all that follow that one."""
    return with_followers(doubts) if doubts else ()


def planned_words(statements: Sequence[Mapping[str, Any]] | str, anatomy: Anatomy) -> str:
    """Return what statements would chart, or the sentence that says why nothing can be."""
    if isinstance(statements, str):
        return harmless(statements)
    return harmless(statement_words(statements, anatomy)) or "nothing"


def teeth_asked(doubts: Sequence[Doubt]) -> frozenset[int]:
    """Return the teeth that open doubts would chart something on, or take something back of."""
    return frozenset(
        tooth
        for doubt in doubts
        for statement in doubt.heard.statements
        for tooth in _charted_on(statement)
    )


def _charted_on(statement: Mapping[str, Any]) -> Iterator[int]:
    part = statement if statement["statement"] == "clear" else None
    part = statement.get("finding") or statement.get("observation") or part
    if part and part.get("tooth"):
        yield part["tooth"]
