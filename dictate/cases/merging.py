"""What was charted while the practice's database was away, put after what other stations charted
meanwhile.

Whatever the rules would treat as they did when it was said is taken over as it is, with new
numbers. Whatever they would now forbid, or ask about, is asked: nothing of it is charted before a
person says so, and nothing is lost.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from types import MappingProxyType
from typing import Any

from dictate.chart.case import Case
from dictate.chart.chart import (
    Chart,
    blank_chart,
    fold,
    standing_utterances,
    undone_utterances,
)
from dictate.chart.draft import LOOKS_ONLY, chart_with
from dictate.chart.events import (
    Charted,
    Closed,
    Decided,
    DentitionChosen,
    Event,
    Happening,
    Heard,
    Observed,
    Redone,
    Reopened,
    Settled,
    TeethChosen,
    ToothChosen,
    Undone,
)
from dictate.chart.plan import plan_statements
from dictate.chart.rules import displaced_by, objection_to_tooth
from dictate.session.doubts import CHOICES, numbered, open_doubts
from dictate.session.statement_data import CLOSE, REOPEN
from dictate.store.delivery import Delivery

NONE_THERE: Mapping[str, Sequence[int]] = MappingProxyType({})
_MEANWHILE = "Another station charted meanwhile: is it so?"
_DECIDED = "Another station decided on it meanwhile: no, then decide again."
_CLOSED = "The chart was closed as final meanwhile: no, then open it again and say it anew."
_TAKEN_BACK = "Another station charted meanwhile: no, then take it back by name."
_NOT_TAKEN_BACK = "Another station charted meanwhile: no, then say it again."


def merged(
    case: Case,
    known: Sequence[Event],
    events: Sequence[Event],
    deliveries: Sequence[Delivery],
    there: Mapping[str, Sequence[int]] = NONE_THERE,
) -> tuple[Delivery, ...]:
    """Return deliveries as they follow on `events`, all that a case has by now. They were charted
    in order after what was `known`. Those that are `there` already, by id, have the numbers of
    their events there, and are left out."""
    waiting = [each for each in deliveries if each.id not in there]
    here = (each for one in deliveries if one.id in there for each in one.events)
    if (*known, *here) == tuple(events):
        return tuple(waiting)
    merging = _Merging(case, known, events)
    carried = []
    for each in deliveries:
        if each.id in there:
            merging.take(each.events, there[each.id])
        else:
            carried.append(Delivery(id=each.id, events=tuple(merging.carried(each.events))))
    return tuple(carried)


class _Merging:
    """The chart `before`, on which it was said, beside the one that there is `now`. `_asked` has,
    by their numbers now, the utterances that ask for what they had charted."""

    def __init__(self, case: Case, known: Sequence[Event], events: Sequence[Event]) -> None:
        self._blank = blank_chart(case)
        self._events_before = list(known)
        self._events_now = list(events)
        self.before = fold(self._blank, self._events_before)
        self.now = fold(self._blank, self._events_now)
        self._numbers: dict[int, int] = {}
        self._asked: dict[int, Heard] = {}

    def take(self, events: Sequence[Event], numbers: Sequence[int]) -> None:
        """Let a delivery have happened whose events have those numbers now."""
        now = [self._events_now[number - 1] for number in numbers]
        for (then, said), (number, became) in zip(numbered(events), numbered(now), strict=True):
            self._numbers[then] = number
            if said.outcome != became.outcome:
                self._asked[number] = became
        self.before = self._after(self.before, self._events_before, events)

    def carried(self, events: Sequence[Event]) -> Iterator[Event]:
        """Yield the events of a delivery as they are now, and let them have happened."""
        for _, group in groupby(events, key=lambda each: each.utterance):
            utterance = list(group)
            number = len(self._events_now) + 1
            whats = self._as_it_is_now([each.what for each in utterance])
            self._numbers[utterance[0].sequence] = number
            new = [
                Event(sequence=number + place, utterance=number, time=utterance[0].time, what=what)
                for place, what in enumerate(whats)
            ]
            self.before = self._after(self.before, self._events_before, utterance)
            self.now = self._after(self.now, self._events_now, new)
            yield from new

    def _after(self, chart: Chart, so_far: list[Event], new: Sequence[Event]) -> Chart:
        so_far += new
        if any(isinstance(each.what, Undone | Redone) for each in new):
            return fold(self._blank, so_far)
        return chart_with(chart, [each.what for each in new])

    def _as_it_is_now(self, whats: Sequence[Happening]) -> list[Happening]:
        heard, *happenings = (self._renumbered(each) for each in whats)
        assert isinstance(heard, Heard)
        for each in happenings:
            if isinstance(each, Undone):
                return self._undone(heard, happenings, each.of)
            if isinstance(each, Redone):
                return self._redone(heard, happenings, each.of)
        statements = self._statements(happenings)
        reason = self._conflict(happenings, statements)
        return [heard, *happenings] if reason is None else self._query(
            heard, happenings, statements, reason
        )  # fmt: skip

    def _renumbered(self, what: Happening) -> Happening:
        match what:
            case Undone(of=of) | Redone(of=of) | Settled(of=of):
                return what.model_copy(update={"of": self._number(of)})
            case Heard():
                statements = tuple(
                    {**each, "follows": self._number(each["follows"])}
                    if each.get("follows")
                    else each
                    for each in what.statements
                )
                part_of = what.part_of and self._number(what.part_of)
                return what.model_copy(update={"statements": statements, "part_of": part_of})
        return what

    def _number(self, number: int) -> int:
        return self._numbers.get(number, number)

    def _undone(self, heard: Heard, happenings: list[Happening], of: int) -> list[Happening]:
        standing = standing_utterances(self._events_now)
        if of in self._asked:
            waits = any(each.number == of for each in open_doubts(self._events_now))
            rest = [each for each in happenings if not isinstance(each, Undone)]
            return [heard, *rest, *([Settled(of=of, answer="rejected")] if waits else [])]
        if standing and standing[-1][0].utterance == of:
            return [heard, *happenings]
        return self._query(heard, happenings, (), _TAKEN_BACK)

    def _redone(self, heard: Heard, happenings: list[Happening], of: int) -> list[Happening]:
        taken_back = undone_utterances(self._events_now)
        if of in self._asked:
            again = self._asked[of]
            anew = len(self._events_now) + 1
            self._numbers |= {then: anew for then, now in self._numbers.items() if now == of}
            return self._query(heard, happenings, again.statements, again.reason or _MEANWHILE)
        if taken_back and taken_back[-1][0].utterance == of:
            return [heard, *happenings]
        return self._query(heard, happenings, (), _NOT_TAKEN_BACK)

    def _conflict(
        self, happenings: Sequence[Happening], statements: Sequence[dict[str, Any]]
    ) -> str | None:
        """Return what has to be asked about an utterance, None where it is treated now as it was
        when it was said."""
        if plan_statements(self.before, statements) != (
            now := plan_statements(self.now, statements)
        ):
            return now.objection.sentence if now.objection else _MEANWHILE
        changes = [each for each in happenings if not isinstance(each, Settled | LOOKS_ONLY)]
        if changes and self.now.closed != self.before.closed:
            return _CLOSED if self.now.closed else _MEANWHILE
        for each in happenings:
            match each:
                case Closed():
                    return now.objection.sentence if now.objection else _MEANWHILE
                case Decided() if self.now.decisions != self.before.decisions and any(
                    other.tooth == each.tooth and other.rule == each.rule
                    for other in set(self.now.decisions) ^ set(self.before.decisions)
                ):
                    return _DECIDED
                case DentitionChosen(dentition=dentition) if (
                    dentition != self.now.dentition != self.before.dentition
                ):
                    return _MEANWHILE
                case TeethChosen(teeth=teeth) if any(
                    objection_to_tooth(self.now, tooth) for tooth in teeth
                ):
                    return _MEANWHILE
                case Settled(of=of, answer=answer) if self._answered_otherwise(of, answer):
                    return _MEANWHILE
        return None

    def _answered_otherwise(self, of: int, answer: str) -> bool:
        """Whether another station answered a question meanwhile, and in another way."""
        answers = {
            each.what.answer
            for each in self._events_now
            if isinstance(each.what, Settled) and each.what.of == of
        }
        return any((each == "rejected") != (answer == "rejected") for each in answers)

    def _query(
        self,
        heard: Heard,
        happenings: Sequence[Happening],
        statements: Sequence[dict[str, Any]],
        reason: str,
    ) -> list[Happening]:
        """Return an utterance that asks for what it would have charted. Questions that it answered
        are set aside for it, and what it took in hand is in hand."""
        asked = heard.model_copy(
            update={
                "outcome": "query",
                "reason": reason,
                "statements": tuple(statements),
                "alternatives": (),
                "part_of": None,
            }
        )
        self._asked[len(self._events_now) + 1] = asked
        aside = [
            each.model_copy(update={"answer": "rejected", "chosen": None})
            for each in happenings
            if isinstance(each, Settled)
        ]
        return [asked, *aside, *filter(self._may_be_in_hand, happenings)]

    def _may_be_in_hand(self, happening: Happening) -> bool:
        match happening:
            case ToothChosen(tooth=tooth):
                return objection_to_tooth(self.now, tooth) is None
            case TeethChosen(teeth=teeth):
                return not any(objection_to_tooth(self.now, tooth) for tooth in teeth)
        return happening.event in (*CHOICES, "context")

    def _statements(self, happenings: Sequence[Happening]) -> tuple[dict[str, Any], ...]:
        """Return, as statements, what an utterance charted."""
        return tuple(each for what in happenings for each in self._said(what))

    def _said(self, what: Happening) -> Iterator[dict[str, Any]]:
        match what:
            case ToothChosen(tooth=tooth):
                yield {"statement": "tooth", "tooth": tooth}
            case Charted(findings=findings, replaced=replaced):
                gone = [each for each in replaced if not self._goes_by_itself(each, findings)]
                for tooth in dict.fromkeys(each.tooth for each in gone):
                    listed = [each.model_dump() for each in gone if each.tooth == tooth]
                    yield {"statement": "clear", "tooth": tooth, "gone": listed}
                for finding in findings:
                    yield {"statement": "finding", "finding": finding.model_dump()}
            case Observed(observations=observations, replaced=replaced):
                if not observations:
                    for each in replaced:
                        yield {"statement": "clear", "observation": each.model_dump(mode="json")}
                for each in observations:
                    yield {"statement": "observation", "observation": each.model_dump(mode="json")}
            case DentitionChosen(dentition=dentition):
                yield {"statement": "dentition", "about": dentition}
            case Closed(by=by):
                yield {"statement": CLOSE, "by": by}
            case Reopened():
                yield {"statement": REOPEN}

    def _goes_by_itself(self, gone: Any, findings: Sequence[Any]) -> bool:
        """Whether a finding goes where one of `findings` is charted, unasked."""
        return any(gone in displaced_by(self.before, each) for each in findings)
