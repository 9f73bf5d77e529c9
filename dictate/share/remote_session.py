"""The session of a second screen: it follows the one that charts, and asks that one to write."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from dictate.chart.case import Case
from dictate.chart.events import Decision, Event, Heard
from dictate.errors import DictateError
from dictate.grammar.spoken import SpokenLanguages
from dictate.session.edit import Standing
from dictate.session.session import Session
from dictate.share.hub import ONLY_LOOKING
from dictate.share.messages import (
    LONGEST_PHRASE,
    Answer,
    Asked,
    Decide,
    Edit,
    MayWrite,
    Press,
    PressKey,
    Settle,
    State,
    Type,
)

_DONE_THERE = "That is done on the charting screen, not on a second one."


class Asks(Protocol):
    """What takes a question to the charting screen."""

    def next_number(self) -> int:
        """Return the number of what is asked next."""
        ...

    def ask(self, asked: Asked) -> Answer:
        """Return the answer; raise DictateError where none comes."""
        ...


class RemoteSession(Session):
    """A session that happens elsewhere. It changes only by what it is told (`follow`); whatever
    would change it here is asked for there, or refused."""

    def __init__(self, case: Case, languages: SpokenLanguages, link: Asks) -> None:
        super().__init__(case, languages, save=_refuse)
        self._link = link
        self.state = State()

    def follow(self, events: Sequence[Event], others: Sequence[int] = ()) -> None:
        """Let events have happened that follow on those before; those whose numbers are `others`
        came from another station."""
        if events and events[0].sequence != self._course.next_number:
            raise DictateError("Something that was charted did not arrive: open the page again.")
        if others or self.others:
            return self.begin_again((*self.events, *events), self.others | set(others))
        self._course.take_in(events)

    @property
    def is_listening(self) -> bool:
        """Whether what is said is charted."""
        return self.state.is_listening

    @property
    def note_is_due(self) -> bool:
        """Whether what is said next is kept as a note."""
        return self.state.note_is_due

    def enter_code(self, code: str) -> None:
        """Ask to be let write; raises DictateError where the code is not the one."""
        self._ask(MayWrite(number=self._link.next_number(), code=code))
        self.state = self.state.model_copy(update={"writes": True})

    def stop_listening(self) -> Heard:
        """Not done from here: it is a key of the charting screen (`press`)."""
        raise DictateError(_DONE_THERE)

    def start_listening(self) -> Heard:
        """Not done from here: it is a key of the charting screen (`press`)."""
        raise DictateError(_DONE_THERE)

    def press(self, key: Press) -> None:
        """Press a key there; raises DictateError where that is not allowed."""
        self._check_writes()
        self._ask(PressKey(number=self._link.next_number(), key=key))

    def type_text(self, text: str) -> Heard:
        """Have a phrase taken there; raises DictateError where it was not."""
        self._check_writes()
        if not 0 < len(text) <= LONGEST_PHRASE:
            raise DictateError(f"A phrase has up to {LONGEST_PHRASE} characters: type less.")
        number, seen = self._link.next_number(), len(self.events)
        return _heard(self._ask(Type(number=number, phrase=text, seen=seen)))

    def decide(self, teeth: Sequence[int], rule: str, decision: Decision, text: str = "") -> Heard:
        """Have a decision kept there; raises DictateError where it was not."""
        self._check_writes()
        asked = Decide(
            number=self._link.next_number(),
            teeth=tuple(teeth),
            rule=rule,
            decision=decision,
            text=text,
            seen=len(self.events),
        )
        return _heard(self._ask(asked))

    def edit(self, standing: Standing, text: str) -> Heard:
        """Have what stands edited there; raises DictateError where it was not."""
        self._check_writes()
        number, seen = self._link.next_number(), len(self.events)
        asked = Edit(number=number, standing=standing, text=text[:LONGEST_PHRASE], seen=seen)
        return _heard(self._ask(asked))

    def answer(self, number: int, reading: int) -> Heard:
        """Have a doubt answered there; raises DictateError where it was not."""
        self._check_writes()
        asked = Settle(
            number=self._link.next_number(), doubt=number, reading=reading, seen=len(self.events)
        )
        return _heard(self._ask(asked))

    def _check_writes(self) -> None:
        if not self.state.writes:
            raise DictateError(ONLY_LOOKING)

    def _ask(self, asked: Asked) -> Answer:
        answer = self._link.ask(asked)
        if answer.problem is not None:
            raise DictateError(answer.problem)
        return answer


def _heard(answer: Answer) -> Heard:
    if answer.heard is None:
        raise DictateError("The charting screen has not said what became of it: look there.")
    return answer.heard


def _refuse(events: Sequence[Event]) -> None:
    raise DictateError(_DONE_THERE)
