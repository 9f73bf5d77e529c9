"""A charting session: where speech, phrases and chart come together.

Each utterance ends in one of three ways: it is charted, it is held as a query until a person
settles it, or it is refused. What could not be trusted never changes the chart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, Literal

from dictate.chart.case import Case
from dictate.chart.chart import (
    Chart,
    blank_chart,
    fold,
    standing_utterances,
    undone_utterances,
)
from dictate.chart.events import (
    Event,
    Happening,
    Heard,
    Outcome,
    Redone,
    Settled,
    ToothChosen,
    Undone,
)
from dictate.chart.plan import Plan, chart_with, plan_correction, plan_statements
from dictate.grammar.spoken import SpokenLanguage
from dictate.phrases.reading import Reading, read_utterance
from dictate.phrases.statements import Command, Unclear
from dictate.speech.recogniser import Hypothesis
from dictate.statement_data import as_data, by_number, clear, kind_of, names_tooth, on_tooth

Answer = Literal["confirmed", "rejected", "repeated"]
_COMMANDS_ALONE = ("undo", "redo", "confirm", "reject")


def now_utc() -> datetime:
    """Return the time now, with its zone."""
    return datetime.now(UTC)


@dataclass(frozen=True)
class Doubt:
    """An utterance that waits for an answer. `number` is that of its Heard event; `follows` the
    number of the doubt whose tooth it is about, where it names none itself."""

    number: int
    heard: Heard
    follows: int | None = None


@dataclass(frozen=True)
class _Verdict:
    outcome: Outcome
    reason: str | None = None
    happenings: tuple[Happening, ...] = ()
    statements: tuple[dict[str, Any], ...] = ()
    rule: str | None = None


def _not_understood(hypothesis: Hypothesis) -> _Verdict:
    return _Verdict("refused", f"Not understood: {hypothesis.text}.", rule="unclear")


def _refusal(plan: Plan) -> _Verdict:
    assert plan.objection
    return _Verdict(
        "refused", plan.objection.sentence, (), plan.statements, rule=plan.objection.rule
    )


class Session:
    """One examination in progress.

    `save` is called with the events of an utterance before anything of it is shown; where it
    raises, the session stays as it was. `events` are those of an examination that is resumed.
    """

    def __init__(
        self,
        case: Case,
        language: SpokenLanguage,
        events: Sequence[Event] = (),
        save: Callable[[Sequence[Event]], None] = lambda events: None,
        now: Callable[[], datetime] = now_utc,
    ) -> None:
        self.case = case
        self._language = language
        self._save = save
        self._now = now
        self._events: list[Event] = list(events)
        self._blank = blank_chart(case)
        self.chart = fold(self._blank, self._events)

    @property
    def events(self) -> tuple[Event, ...]:
        """All that has happened, in order."""
        return tuple(self._events)

    @property
    def heard(self) -> tuple[Event, ...]:
        """The utterances, in order: the events whose `what` is a Heard."""
        return tuple(event for event in self._events if isinstance(event.what, Heard))

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """The open doubts, the one asked last at the end."""
        settled = {event.what.of for event in self._events if isinstance(event.what, Settled)}
        return tuple(
            Doubt(number, heard, next((each.get("follows") for each in heard.statements), None))
            for number, heard in self._numbered()
            if heard.outcome == "query" and number not in settled
        )

    def _numbered(self) -> Iterator[tuple[int, Heard]]:
        """The utterances in order, each with its number."""
        for event in self._events:
            if isinstance(event.what, Heard):
                yield event.sequence, event.what

    def type_text(self, text: str) -> Heard:
        """Take a typed phrase; return what became of it."""
        typed = Hypothesis(text, score=1.0, trust="sure", engine="keyboard")
        return self.hear(typed)

    def hear(
        self,
        hypothesis: Hypothesis,
        file: str | None = None,
        start_s: float | None = None,
        end_s: float | None = None,
    ) -> Heard:
        """Take an utterance from an engine; return what became of it."""
        reading = read_utterance(self._language, hypothesis.text)
        statements = tuple(as_data(statement) for statement in reading.statements)
        verdict = self._verdict(hypothesis, reading, statements)
        heard = Heard(
            text=hypothesis.text,
            outcome=verdict.outcome,
            reason=verdict.reason or _repairs_in_words(reading),
            rule=verdict.rule,
            statements=verdict.statements or statements,
            file=file,
            start_s=start_s,
            end_s=end_s,
            engine=hypothesis.engine,
            score=None if hypothesis.engine == "keyboard" else hypothesis.score,
        )
        self._record(heard, verdict.happenings)
        return heard

    def _record(self, heard: Heard, happenings: Sequence[Happening]) -> None:
        number = len(self._events) + 1
        time = self._now()
        new = [
            Event(sequence=number + place, utterance=number, time=time, what=what)
            for place, what in enumerate((heard, *happenings))
        ]
        self._save(new)
        self._events += new
        if any(isinstance(what, Undone | Redone) for what in happenings):
            self.chart = fold(self._blank, self._events)
        else:
            self.chart = chart_with(self.chart, happenings)

    def _verdict(
        self, hypothesis: Hypothesis, reading: Reading, statements: tuple[dict[str, Any], ...]
    ) -> _Verdict:
        if hypothesis.trust == "foreign":
            return _Verdict("refused", hypothesis.reason or "Not charting.")
        if not reading.parts:
            return _Verdict("refused", "No words were understood.")
        commands = [each for each in reading.statements if isinstance(each, Command)]
        if reading.is_clear and commands and commands[0].command in _COMMANDS_ALONE:
            return self._obey(commands[0].command, hypothesis)
        if commands and commands[0].command == "correction":
            return self._put_right(hypothesis, reading, statements)
        return self._chart_or_ask(hypothesis, reading, statements)

    def _obey(self, command: str, hypothesis: Hypothesis) -> _Verdict:
        if hypothesis.trust != "sure":
            return _Verdict("refused", f"“{hypothesis.text}”? Say it again, or press a key.")
        match command:
            case "confirm" | "reject":
                return self._answer(confirmed=command == "confirm")
            case "undo":
                return self._undo()
            case _:
                return self._redo()

    def _undo(self) -> _Verdict:
        doubts = self.doubts
        if doubts and doubts[-1].number == self.heard[-1].sequence:
            return self._answer(confirmed=False)
        standing = standing_utterances(self._events)
        if not standing:
            return _Verdict("refused", "There is nothing to undo.")
        return _Verdict("charted", happenings=(Undone(of=standing[-1][0].utterance),))

    def _redo(self) -> _Verdict:
        undone = undone_utterances(self._events)
        if not undone:
            return _Verdict("refused", "There is nothing to redo.")
        return _Verdict("charted", happenings=(Redone(of=undone[-1][0].utterance),))

    def _answer(self, confirmed: bool) -> _Verdict:
        doubts = self.doubts
        if not doubts:
            return _Verdict("refused", "Nothing was asked.")
        asked = with_followers(doubts)
        if not confirmed:
            settled = tuple(Settled(of=each.number, answer="rejected") for each in asked)
            return _Verdict("charted", happenings=settled)
        return self._settle(asked, "confirmed")

    def _settle(self, asked: Sequence[Doubt], answer: Answer) -> _Verdict:
        """Chart what doubts hold, as one thing said, unless a rule forbids it. A tooth that was
        taken in hand since then stays in hand."""
        held = [each for doubt in asked for each in clear(doubt.heard.statements)]
        standing = standing_utterances(self._events)
        charted_since = bool(standing) and standing[-1][0].utterance > asked[0].number
        if charted_since and any(each["statement"] == "correction" for each in held):
            return _Verdict("refused", "More was charted since: say the correction again.")
        plan = self._plan([by_number(each) for each in held])
        if plan.objection and plan.objection.verdict == "impossible":
            return _refusal(plan)
        settled = tuple(Settled(of=doubt.number, answer=answer) for doubt in asked)
        in_hand = self.chart.tooth_in_hand
        chosen_since = self._last_choice() > asked[-1].number
        stay = (ToothChosen(tooth=in_hand),) if chosen_since and in_hand else ()
        return _Verdict("charted", happenings=(*settled, *plan.happenings, *stay))

    def _plan(self, statements: Sequence[dict[str, Any]]) -> Plan:
        if any(each["statement"] == "correction" for each in statements):
            standing = standing_utterances(self._events)
            return plan_correction(self.chart, standing[-1] if standing else (), statements)
        return plan_statements(self.chart, statements)

    def _chart_or_ask(
        self, hypothesis: Hypothesis, reading: Reading, statements: tuple[dict[str, Any], ...]
    ) -> _Verdict:
        understood = clear(statements)
        if not understood:
            return _not_understood(hypothesis)
        waiting = self._doubt_about_tooth()
        plan = plan_statements(self.chart, understood)
        if waiting and not plan.chooses_tooth:
            return self._follow(waiting, understood)
        if self._tooth_was_refused() and not plan.chooses_tooth and not plan.objection:
            reason = "The tooth named last was refused: say which tooth."
            return _Verdict("refused", reason, statements=statements, rule="tooth")
        if plan.objection and plan.objection.verdict == "impossible":
            return _refusal(plan)
        if not plan.happenings:
            return _not_understood(hypothesis)
        repeated = [each for each in self.doubts if _same(each, plan.statements)]
        if repeated and hypothesis.trust == "sure" and reading.is_clear:
            return replace(self._settle(repeated[-1:], "repeated"), statements=plan.statements)
        question = _question(hypothesis, reading, plan)
        if question:
            kept = tuple(each for each in statements if each["statement"] == "unclear")
            certain = reading.is_clear and hypothesis.trust == "sure"
            return _Verdict(
                "query",
                question,
                tuple(each for each in plan.happenings if certain and each.event == "tooth"),
                (*plan.statements, *kept),
            )
        return _Verdict("charted", happenings=plan.happenings, statements=plan.statements)

    def _last_choice(self) -> int:
        """The sequence number of the event that chose the tooth in hand, 0 if none did."""
        choices = (event.sequence for event in self._events if event.what.event == "tooth")
        return max(choices, default=0)

    def _doubt_about_tooth(self) -> Doubt | None:
        """Return the open doubt that may have changed the tooth in hand, if nothing certain has
        chosen a tooth since: what is said without a tooth belongs to it."""
        since = self._last_choice()
        naming = [
            each
            for each in self.doubts
            if each.number > since and names_tooth(each.heard.statements)
        ]
        return naming[-1] if naming else None

    def _tooth_was_refused(self) -> bool:
        """Whether a rule refused what named a tooth, and none was chosen since: what follows
        without a tooth was not meant for the tooth in hand."""
        since = self._last_choice()
        return any(
            number > since
            and heard.outcome == "refused"
            and heard.rule is not None
            and names_tooth(heard.statements)
            for number, heard in self._numbered()
        )

    def _follow(self, doubt: Doubt, statements: Sequence[dict[str, Any]]) -> _Verdict:
        chart = plan_chart(self.chart, clear(doubt.heard.statements))
        plan = plan_statements(chart, statements)
        if plan.objection and plan.objection.verdict == "impossible":
            return _refusal(plan)
        following = tuple({**each, "follows": doubt.number} for each in plan.statements)
        return _Verdict("query", f"Waits for: {doubt.heard.text}.", statements=following)

    def _put_right(
        self, hypothesis: Hypothesis, reading: Reading, statements: tuple[dict[str, Any], ...]
    ) -> _Verdict:
        doubts = self.doubts
        asked = with_followers(doubts) if doubts and self._was_just_asked(doubts[-1]) else ()
        if asked and reading.is_clear and hypothesis.trust == "sure":
            return self._put_doubt_right(asked, statements)
        plan = self._plan(clear(statements))
        if plan.objection:
            return _refusal(plan)
        question = _question(hypothesis, reading, plan)
        if question:
            return _Verdict("query", question, statements=plan.statements)
        return _Verdict("charted", happenings=plan.happenings, statements=plan.statements)

    def _was_just_asked(self, doubt: Doubt) -> bool:
        return doubt.number == self.heard[-1].sequence

    def _put_doubt_right(
        self, asked: Sequence[Doubt], statements: Sequence[dict[str, Any]]
    ) -> _Verdict:
        """A correction right after a doubt puts it right and settles it: a tooth alone moves
        what is held to that tooth, a finding stands in the place of those of its kind."""
        meant = [each for each in clear(statements) if each["statement"] != "correction"]
        held = [each for doubt in asked for each in clear(doubt.heard.statements)]
        if sum("finding" not in each for each in held) > 1:
            return _Verdict("refused", "It names several teeth: say no, then say it again.")
        if any(each["statement"] == "tooth" for each in meant):
            held = [on_tooth(each, None) for each in held if "finding" in each]
        corrected = {kind_of(each) for each in meant if "finding" in each}
        kept = [each for each in held if kind_of(each) not in corrected]
        teeth = [each for each in (*meant, *kept) if "finding" not in each]
        findings = [each for each in (*kept, *meant) if "finding" in each]
        plan = plan_statements(self.chart, [*teeth, *(on_tooth(each, None) for each in findings)])
        if plan.objection:
            return _refusal(plan)
        settled = tuple(Settled(of=doubt.number, answer="rejected") for doubt in asked)
        marked = ({"statement": "correction"}, *plan.statements)
        return _Verdict("charted", happenings=(*settled, *plan.happenings), statements=marked)


def plan_chart(chart: Chart, statements: Sequence[dict[str, Any]]) -> Chart:
    """Return the chart as it would be if `statements` were charted."""
    return chart_with(chart, plan_statements(chart, statements).happenings)


def _same(doubt: Doubt, statements: Sequence[dict[str, Any]]) -> bool:
    return clear(doubt.heard.statements) == clear(statements)


def with_followers(doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    """Return the doubt asked last, with the one it follows and all that follow that one."""
    first = doubts[-1].follows or doubts[-1].number
    return tuple(each for each in doubts if first in (each.number, each.follows))


def _question(hypothesis: Hypothesis, reading: Reading, plan: Plan) -> str | None:
    if not reading.is_clear:
        unclear = [each.text for each in reading.statements if isinstance(each, Unclear)]
        return f"Not understood: {', '.join(unclear)}."
    if plan.objection:
        return plan.objection.sentence
    if hypothesis.trust != "sure":
        return hypothesis.reason or "Heard unclearly."
    return None


def _repairs_in_words(reading: Reading) -> str | None:
    if not reading.repairs:
        return None
    return ", ".join(f"“{each.heard}” read as {each.taken}" for each in reading.repairs) + "."
