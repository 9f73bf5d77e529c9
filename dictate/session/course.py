"""The course of a visit: what has happened, in order, and the chart that it comes to."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from dictate.chart.case import Case
from dictate.chart.chart import blank_chart
from dictate.chart.correction import plan_correction
from dictate.chart.draft import Plan, chart_with
from dictate.chart.events import Closed, Event, Happening, Heard, Redone, Undone
from dictate.chart.plan import plan_statements
from dictate.chart.stations import chart_at_station, own_events, with_hand_of
from dictate.errors import DictateError
from dictate.integrity.chain import head_of
from dictate.session.doubts import (
    Doubt,
    answers_about_tooth,
    last_choice,
    open_doubts,
    own_doubts,
)
from dictate.session.heard import asked_by_key
from dictate.session.one_breath import said_last
from dictate.session.statement_data import TO_THE_TOOL
from dictate.session.verdict import Verdict

if TYPE_CHECKING:
    from dictate.integrity.seal import Sign

TOOTH_ELSEWHERE = "The tooth was answered about at another station: say which tooth."
"""What is answered where the hand is unknown (`Course.is_hand_unknown`)."""


class Course:
    """What has happened in an examination, here and at other stations.

    `save` is called with the events of an utterance before they have happened: where it raises, all
    stays as it was. `others` are the numbers of the events that came from another station. `sign`
    seals the chart when it is closed.
    """

    def __init__(
        self,
        case: Case,
        events: Sequence[Event],
        others: Collection[int],
        save: Callable[[Sequence[Event]], None],
        now: Callable[[], datetime],
        sign: Sign | None,
    ) -> None:
        self.case = case
        self.resumed_after = len(events)
        self._save = save
        self._now = now
        self._sign = sign
        self._blank = blank_chart(case)
        self.begin_again(events, others)

    def begin_again(self, events: Sequence[Event], others: Collection[int]) -> None:
        """Let `events`, with those of `others` among them, be all that has happened."""
        self.events = tuple(events)
        self.others = frozenset(others)
        self._tooth_answered_elsewhere = 0
        self.chart = chart_at_station(self._blank, self.events, self.others)

    def catch_up(self, events: Sequence[Event]) -> bool:
        """Take in what another station charted meanwhile: those of `events`, in order, that are not
        here yet; return whether there were any. What is in hand here stays in hand."""
        new = [each for each in events if each.sequence > len(self.events)]
        if not new:
            return False
        if new[0].sequence != self.next_number:
            raise DictateError(f"Case {self.case.id} lacks events here: close it, then open it.")
        if answers_about_tooth(open_doubts(self.own), new):
            self._tooth_answered_elsewhere = new[-1].sequence
        self.others |= {each.sequence for each in new}
        self.take_in(new)
        return True

    def record(
        self, heard: Heard, happenings: Sequence[Happening] = (), asked: Heard | None = None
    ) -> None:
        """Keep an utterance with what follows from it, and the part of it that is `asked` about;
        then it has happened."""
        number = self.next_number
        time = self._now()
        new = [
            Event(sequence=number + place, utterance=number, time=time, what=what)
            for place, what in enumerate((heard, *happenings))
        ]
        if asked is not None:
            last = number + len(new)
            new.append(Event(sequence=last, utterance=last, time=time, what=asked))
        new = self._sealed(new)
        self._save(new)
        self.take_in(new)

    def record_asked(self, verdict: Verdict, words: str) -> Heard:
        """Keep what became of what a key asked; `words` tell what it was."""
        heard = asked_by_key(verdict, words)
        self.record(heard, verdict.happenings)
        return heard

    def record_in_two(self, text: str, sure: Verdict, asked: Heard) -> Heard:
        """Keep an utterance of which a part is asked about, as one thing: what is sure first.
        Return the part that is asked about."""
        kept = {
            "text": text,
            "outcome": sure.outcome,
            "reason": sure.reason,
            "statements": sure.statements,
            "alternatives": (),
        }
        asked = asked.model_copy(update={"part_of": self.next_number})
        self.record(asked.model_copy(update={**kept, "part_of": None}), sure.happenings, asked)
        return asked

    def take_in(self, new: Sequence[Event]) -> None:
        """Let events that are saved have happened."""
        self.events = (*self.events, *new)
        if any(isinstance(event.what, Undone | Redone) for event in new):
            self.chart = chart_at_station(self._blank, self.events, self.others)
            return
        chart = chart_with(self.chart, [event.what for event in new])
        elsewhere = bool(new) and new[0].sequence in self.others
        self.chart = with_hand_of(chart, self.chart) if elsewhere else chart

    def _sealed(self, new: list[Event]) -> list[Event]:
        """Return new events with the closing among them sealed, where there is one."""
        if self._sign is None:
            return new
        for place, event in enumerate(new):
            if isinstance(event.what, Closed):
                head = head_of(self.case, (*self.events, *new[:place]))
                seal = self._sign(head, event.what.by, event.time)
                closed = event.what.model_copy(update={"seal": seal})
                new[place] = event.model_copy(update={"what": closed})
        return new

    @property
    def next_number(self) -> int:
        """The number of the event that comes next."""
        return len(self.events) + 1

    @property
    def own(self) -> list[Event]:
        """What happened at this station."""
        return own_events(self.events, self.others)

    @property
    def heard(self) -> tuple[Event, ...]:
        """The utterances, in order: the events whose `what` is a Heard."""
        return tuple(event for event in self.events if isinstance(event.what, Heard))

    @property
    def heard_of_the_visit(self) -> tuple[Event, ...]:
        """The utterances without words to the tool itself, which come between no two others: a note
        that was asked for still waits after them, a doubt is still the one asked last."""
        own = own_events(self.heard, self.others)
        return tuple(each for each in own if not _is_to_the_tool(each.what))

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """The open doubts, the one asked last at the end; those of other stations before all of
        this one."""
        doubts = open_doubts(self.events)
        return tuple(sorted(doubts, key=lambda each: each.number not in self.others))

    @property
    def doubts_here(self) -> tuple[Doubt, ...]:
        """The open doubts that this station asked: a spoken answer is about one of them."""
        return own_doubts(self.doubts, self.others)

    def was_just_asked(self, doubt: Doubt) -> bool:
        """Return whether nothing of the visit was heard here since a doubt was asked."""
        return doubt.number == self.heard_of_the_visit[-1].sequence

    @property
    def is_hand_unknown(self) -> bool:
        """Whether another station answered what was asked here about the tooth, and none was named
        here since: what is in hand here may not be what the examiner has in hand."""
        return self._tooth_answered_elsewhere > last_choice(self.own)

    def plan(self, statements: Sequence[dict[str, Any]]) -> Plan:
        """Return what statements would do here; a correction is about what was said last."""
        if any(each["statement"] == "correction" for each in statements):
            return plan_correction(self.chart, said_last(self.own, statements), statements)
        return plan_statements(self.chart, statements)


def _is_to_the_tool(what: Happening) -> bool:
    """Whether it was a word to the tool itself, not to the record."""
    return isinstance(what, Heard) and (
        what.outcome == "charted"
        and bool(what.statements)
        and all(each["statement"] in TO_THE_TOOL for each in what.statements)
    )
