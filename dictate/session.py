"""A charting session: where speech, phrases and chart come together.

Each utterance ends in one of three ways: it is charted, it is held as a query until a person
settles it, or it is refused. What could not be trusted never changes the chart.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal

from dictate.assessment.completeness import whats_left
from dictate.chart.case import Case
from dictate.chart.chart import (
    Chart,
    blank_chart,
    standing_utterances,
    undone_utterances,
)
from dictate.chart.correction import is_change, plan_correction
from dictate.chart.draft import CLOSED, Plan, chart_with
from dictate.chart.events import (
    CONTEXTS,
    GO_TO_NAMES,
    Alternative,
    Closed,
    Decided,
    Decision,
    Event,
    Happening,
    Heard,
    Noted,
    Redone,
    Reopened,
    Settled,
    TeethChosen,
    ToothChosen,
    Undone,
)
from dictate.chart.plan import plan_statements
from dictate.chart.stations import (
    chart_at_station,
    own_events,
    with_hand_of,
)
from dictate.doubts import (
    CHOICES,
    Doubt,
    PutRight,
    answers_about_tooth,
    doubt_about_tooth,
    held,
    held_instead,
    is_about,
    last_choice,
    open_doubts,
    own_doubts,
    put_right,
    teeth_asked_about,
    tooth_was_refused,
    with_followers,
)
from dictate.edit import Standing, edited, standing_words
from dictate.errors import DictateError
from dictate.grammar.spoken import WAITING, SpokenLanguages
from dictate.hearing_again import hears_again
from dictate.integrity.chain import head_of
from dictate.one_breath import asked_with, charted_before, correct_in_part, said_last
from dictate.part_doubt import divided, whole_alternatives
from dictate.phrases.reading import Reading, read_typed, read_utterance
from dictate.phrases.statements import Command
from dictate.speech.audio import Samples, UtteranceAudio
from dictate.speech.recogniser import NOTE, Hypothesis
from dictate.statement_data import (
    ATTENTION,
    CLOSE,
    MISSED,
    REOPEN,
    START,
    STOP,
    TO_THE_TOOL,
    as_data,
    by_number,
    clear,
    moves_on,
    on_tooth,
)
from dictate.statement_words import READINGS, statement_in_words
from dictate.verdict import (
    TYPED,
    Verdict,
    denial,
    not_understood,
    question,
    refusal,
    repairs_in_words,
)

if TYPE_CHECKING:
    from dictate.integrity.seal import Sign

Answer = Literal["confirmed", "rejected", "repeated"]
_COMMANDS_ALONE = (
    "undo", "redo", "confirm", "reject", "choose", "left", "note", CLOSE, REOPEN, *TO_THE_TOOL,
)  # fmt: skip
_TYPED_NOTE = "note:"
_CHARTED_ELSEWHERE = "Another station has charted since: name the tooth, and what to take back."
_TOOTH_ELSEWHERE = "The tooth was answered about at another station: say which tooth."
_ASKED_ELSEWHERE = "That is asked at another station: answer there, or among all open questions."
UNDECODED = "(the speech engine failed: listen to it)"
"""What stands in the place of words of which there is only the sound."""
_TYPED_CHOICES = {str(number): f"the {name}" for number, name in READINGS.items()}


def now_utc() -> datetime:
    """Return the time now, with its zone."""
    return datetime.now(UTC)


class Session:
    """One examination in progress.

    `save` is called with the events of an utterance before anything of it is shown; where it
    raises, the session stays as it was. `events` are those of an examination that is resumed.
    `keep_clip` keeps the sound of a spoken note, given the number of its utterance, and returns
    the name of its file; without it a note has no sound. `sign` seals the chart when it is closed.

    Where several stations chart the case, `others` are the numbers of the events that came from
    another one. `save` raises BehindError where there are more of them: the session takes them in
    (`catch_up`) and hears the utterance again, against the chart as it then is. What is in hand
    here, undo, corrections and spoken answers are about what was charted here.

    A session listens until it is told to stop. That is of the running program, not of the case: one
    that is resumed listens.
    """

    def __init__(
        self,
        case: Case,
        languages: SpokenLanguages,
        events: Sequence[Event] = (),
        save: Callable[[Sequence[Event]], None] = lambda events: None,
        now: Callable[[], datetime] = now_utc,
        keep_clip: Callable[[Samples, int], str] | None = None,
        sign: Sign | None = None,
        others: Collection[int] = (),
    ) -> None:
        self.case = case
        self._languages = languages
        self._keep_clip = keep_clip
        self._sign = sign
        self._save = save
        self._now = now
        self._events: list[Event] = list(events)
        self._others = set(others)
        self._tooth_answered_elsewhere = 0
        self._resumed_after = len(self._events)
        self._is_listening = True
        self._stopped_by_voice = False
        self._blank = blank_chart(case)
        self.chart = chart_at_station(self._blank, self._events, self._others)

    @property
    def others(self) -> frozenset[int]:
        """The numbers of the events that another station charted."""
        return frozenset(self._others)

    @property
    def _own(self) -> list[Event]:
        """What happened at this station."""
        return own_events(self._events, self._others)

    @property
    def attention(self) -> tuple[bool, bool]:
        """Whether it listens, and whether it was a voice that stopped it."""
        return self._is_listening, self._stopped_by_voice

    @attention.setter
    def attention(self, attention: tuple[bool, bool]) -> None:
        self._is_listening, self._stopped_by_voice = attention

    def catch_up(self, events: Sequence[Event]) -> bool:
        """Take in what another station charted meanwhile: those of `events`, in order, that are not
        here yet; return whether there were any. What is in hand here stays in hand."""
        new = [each for each in events if each.sequence > len(self._events)]
        if not new:
            return False
        if new[0].sequence != len(self._events) + 1:
            raise DictateError(f"Case {self.case.id} lacks events here: close it, then open it.")
        if answers_about_tooth(open_doubts(self._own), new):
            self._tooth_answered_elsewhere = new[-1].sequence
        self._others |= {each.sequence for each in new}
        self._take_in(new)
        return True

    def begin_again(self, events: Sequence[Event], others: Collection[int]) -> None:
        """Take `events`, with those of `others` among them, in the place of all there was: what was
        charted here stands after what was charted elsewhere."""
        self._events, self._others = list(events), set(others)
        self._tooth_answered_elsewhere = 0
        self.chart = chart_at_station(self._blank, self._events, self._others)

    @property
    def events(self) -> tuple[Event, ...]:
        """All that has happened, in order."""
        return tuple(self._events)

    @property
    def heard(self) -> tuple[Event, ...]:
        """The utterances, in order: the events whose `what` is a Heard."""
        return tuple(event for event in self._events if isinstance(event.what, Heard))

    @property
    def _heard_of_the_visit(self) -> tuple[Event, ...]:
        """The utterances without words to the tool itself, which come between no two others: a note
        that was asked for still waits after them, a doubt is still the one asked last."""
        own = own_events(self.heard, self._others)
        return tuple(each for each in own if not _is_to_the_tool(each.what))

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """The open doubts, the one asked last at the end; those of other stations before all of
        this one."""
        doubts = open_doubts(self._events)
        return tuple(sorted(doubts, key=lambda each: each.number not in self._others))

    @property
    def doubts_here(self) -> tuple[Doubt, ...]:
        """The open doubts that this station asked: a spoken answer is about one of them."""
        return own_doubts(self.doubts, self._others)

    def charted_with(self, asked: Heard) -> Heard | None:
        """Return what became of the rest of an utterance, a part of which is asked about; None
        where all of it is."""
        of = (each.what for each in self._events if each.sequence == asked.part_of)
        return next((each for each in of if isinstance(each, Heard)), None)

    @property
    def listening_for(self) -> str:
        """What an engine is to listen for: the part of the visit, a note of any words, or what
        starts listening again."""
        if not self._is_listening:
            return WAITING
        return NOTE if self._note_is_due() else self.chart.context

    @property
    def is_listening(self) -> bool:
        """Whether what is said is charted; typed phrases are taken always."""
        return self._is_listening

    @property
    def note_is_due(self) -> bool:
        """Whether what is said next is kept as a note, now or once listening starts again."""
        return self._note_is_due()

    @property
    def languages(self) -> SpokenLanguages:
        """What can be said."""
        return self._languages

    @property
    def said_to_resume(self) -> str:
        """What is said to start listening again."""
        return self._languages.said_to_resume

    @hears_again
    def stop_listening(self) -> Heard:
        """Listen no more, as a key asks; return what is kept of it."""
        return self._attend(False, Hypothesis("stop listening", engine=TYPED))

    @hears_again
    def start_listening(self) -> Heard:
        """Listen again, as a key asks; return what is kept of it."""
        return self._attend(True, Hypothesis("start listening", engine=TYPED))

    @hears_again
    def turn_sounds(self, words: str) -> Heard:
        """Keep that sounds were turned off or on by a key; `words` are what would be said."""
        return self._hear(Hypothesis(words, score=1.0, trust="sure", engine=TYPED), None)

    @hears_again
    def miss(self, audio: UtteranceAudio) -> Heard:
        """Take an utterance whose beginning nobody heard: it is refused, and since a tooth may have
        been named in it, what follows without a tooth is refused too."""
        heard = _refused_unheard("Its beginning was not heard: say it again.", audio)
        self._record(heard, ())
        return heard

    @hears_again
    def keep_undecoded(self, audio: UtteranceAudio, listened_for: str | None = None) -> Heard:
        """Take an utterance on which the engine failed. Its sound is kept, as that of a note; but
        for that it is as one that was missed."""
        nothing = Hypothesis(UNDECODED, trust="doubtful")
        if listened_for == NOTE:
            return self._take_spoken_note(nothing, audio)
        number = len(self._events) + 1
        clip = self._keep_clip(audio.samples, number) if self._keep_clip else None
        heard = _refused_unheard("The speech engine failed: say it again.", audio)
        note = Noted(text=UNDECODED, tooth=self.chart.tooth_in_hand, clip=clip)
        self._record(heard, () if clip is None or self.chart.closed else (note,))
        return heard

    @hears_again
    def type_text(self, text: str) -> Heard:
        """Take a typed phrase; return what became of it. What follows "note:" is a note; while a
        doubt is open, a number alone is its reading of that number."""
        # Bytes that are no text come from a terminal as halves of characters, which no file takes.
        text = text.encode(errors="replace").decode()
        words = text.strip()
        if words.lower().startswith(_TYPED_NOTE):
            return self._take_note(words[len(_TYPED_NOTE) :].strip())
        typed = Hypothesis(text, score=1.0, trust="sure", engine=TYPED)
        if words and self._note_is_due(TYPED) and not self._is_about_attention(typed):
            return self._take_note(words)
        if words in _TYPED_CHOICES and self.doubts_here:
            typed = replace(typed, text=_TYPED_CHOICES[words])
        return self._hear(typed, None)

    @hears_again
    def hear(
        self,
        hypothesis: Hypothesis,
        audio: UtteranceAudio | None = None,
        listened_for: str | None = None,
    ) -> Heard | None:
        """Take an utterance from an engine; return what became of it, None where it was said while
        not listening: then nothing of it is kept, but for what starts listening again. Where only a
        part of it is in doubt, that part is an utterance of its own, and is returned; the rest
        stands before it (`charted_with`).

        `listened_for` is what the engine was listening for, where that may be another thing than
        `listening_for` is by now: an utterance that was over when a key stopped listening is
        charted.
        """
        if (listened_for or self.listening_for) == WAITING:
            return self._wake(hypothesis, audio)
        # What comes after a spoken “stop listening” was said after it, however late it was heard.
        if not self._is_listening and self._stopped_by_voice:
            return None
        return self._hear(hypothesis, audio)

    def _hear(self, hypothesis: Hypothesis, audio: UtteranceAudio | None) -> Heard:
        if audio is not None and self._note_is_due() and hypothesis.text:
            if self._is_about_attention(hypothesis, STOP):
                return self._attend(False, hypothesis, audio)
            return self._take_spoken_note(hypothesis, audio)
        reading = self._read(hypothesis)
        statements = tuple(as_data(statement) for statement in reading.statements)
        verdict = self._verdict(hypothesis, reading, statements)
        heard = Heard(
            text=verdict.words or hypothesis.text,
            outcome=verdict.outcome,
            reason=verdict.reason or repairs_in_words(reading),
            rule=verdict.rule,
            statements=verdict.statements or statements,
            score=None if hypothesis.engine == TYPED else hypothesis.score,
            alternatives=verdict.alternatives,
            **_source(hypothesis, audio),
        )
        if verdict.sure is not None:
            return self._record_in_two(hypothesis.text, verdict.sure, heard)
        if verdict.outcome == "charted" and [each["statement"] for each in statements] in ATTENTION:
            return self._attend(statements[0]["statement"] == START, hypothesis, audio)
        self._record(heard, verdict.happenings)
        return heard

    def _wake(self, hypothesis: Hypothesis, audio: UtteranceAudio | None) -> Heard | None:
        """Listen again where that was said beyond doubt, and was not done by a key meanwhile."""
        if self._is_listening or hypothesis.trust != "sure":
            return None
        reading = read_utterance(self._languages[WAITING], hypothesis.text)
        if not reading.is_clear or reading.statements != (Command(START),):
            return None
        return self._attend(True, hypothesis, audio)

    def _attend(
        self, listening: bool, hypothesis: Hypothesis, audio: UtteranceAudio | None = None
    ) -> Heard:
        """Listen, or listen no more. To stop comes before it is kept: where nothing can be saved,
        it has stopped all the same."""
        waits = self._note_is_due()
        if listening:
            reason = "Listening. Say the note now." if waits else "Listening."
        else:
            reason = f"Not listening: say “{self.said_to_resume}”."
            reason += " The note waits until then." if waits else ""
            self._stopped_by_voice = self._is_listening and hypothesis.engine != TYPED
            self._is_listening = False
        heard = Heard(
            text=hypothesis.text,
            outcome="charted",
            reason=reason,
            statements=({"statement": START if listening else STOP},),
            score=None if hypothesis.engine == TYPED else hypothesis.score,
            **_source(hypothesis, audio),
        )
        self._record(heard, ())
        self._is_listening = listening
        return heard

    def _is_about_attention(self, hypothesis: Hypothesis, *which: str) -> bool:
        """Whether words are “stop listening” or the like and no more."""
        statements = self._read(hypothesis).statements
        return statements in [(Command(each),) for each in which or (STOP, START)]

    @hears_again
    def decide(self, teeth: Sequence[int], rule: str, decision: Decision, text: str = "") -> Heard:
        """Keep what a clinician decided on the proposal of a rule for one tooth or several, as one
        thing said."""
        decided = [Decided(tooth=t, rule=rule, decision=decision, text=text) for t in teeth]
        if self.chart.closed:
            return self._record_verdict(Verdict("refused", CLOSED.sentence), f"{decision}: {rule}")
        heard = Heard(
            text=f"{decision} {', '.join(str(tooth) for tooth in teeth)}: {text or rule}",
            outcome="charted",
            statements=tuple(
                {"statement": "decision", **each.model_dump(exclude={"event"})} for each in decided
            ),
        )
        self._record(heard, decided)
        return heard

    @hears_again
    def answer(self, number: int, reading: int) -> Heard:
        """Settle the doubt about utterance `number`, whichever was asked last: `reading` 1 is what
        was heard, 2 or 3 another of its readings, 0 none of them."""
        words = "no" if reading == 0 else "yes" if reading == 1 else f"the {READINGS[reading]}"
        verdict = self._answer(confirmed=reading > 0, reading=max(1, reading), number=number)
        return self._record_verdict(verdict, words)

    @hears_again
    def edit(self, standing: Standing, text: str) -> Heard:
        """Put what is typed in the place of what stands, "" to take it back. What cannot be true is
        refused, and nothing changes."""
        reading = self._read(Hypothesis(text, engine=TYPED)) if text.strip() else None
        verdict = edited(self.chart, standing, reading)
        instead = text.strip() or "taken back"
        return self._record_verdict(verdict, f"{standing_words(standing)} → {instead}")

    def _record_verdict(self, verdict: Verdict, words: str) -> Heard:
        """Keep what became of what a key asked; `words` tell what it was."""
        heard = Heard(
            text=words,
            outcome=verdict.outcome,
            reason=verdict.reason,
            rule=verdict.rule,
            statements=verdict.statements,
            engine=TYPED,
        )
        self._record(heard, verdict.happenings)
        return heard

    def _read(self, hypothesis: Hypothesis) -> Reading:
        context = self.chart.context
        if hypothesis.engine == TYPED:
            return read_typed(self._languages.beginning_with(context), hypothesis.text)
        return read_utterance(self._languages[context], hypothesis.text)

    def _part_of(self, text: str) -> str | None:
        """Return the other part of the visit in which a text is a clear sentence, by the name
        that it is gone to; None where there is none."""
        for context in CONTEXTS:
            elsewhere = context != self.chart.context
            if elsewhere and read_utterance(self._languages[context], text).is_clear:
                return GO_TO_NAMES[context]
        return None

    def _note_is_due(self, asked_by: str | None = None) -> bool:
        """Whether the utterance before asked for a note to be taken, by that engine; not where a
        case was resumed since."""
        last = [each for each in self._heard_of_the_visit if not _was_missed(each.what)][-1:]
        return any(
            event.what.outcome == "charted"
            and event.sequence > self._resumed_after
            and asked_by in (None, event.what.engine)
            and [each["statement"] for each in event.what.statements] == ["note"]
            for event in last
            if isinstance(event.what, Heard)
        )

    def _take_spoken_note(self, hypothesis: Hypothesis, audio: UtteranceAudio) -> Heard:
        number = len(self._events) + 1
        clip = self._keep_clip(audio.samples, number) if self._keep_clip else None
        heard = Heard(
            text=hypothesis.text,
            outcome="charted",
            reason="Kept as a note, not verified.",
            statements=({"statement": "noted"},),
            **_source(hypothesis, audio),
        )
        note = Noted(text=hypothesis.text, tooth=self.chart.tooth_in_hand, clip=clip)
        self._record(heard, (note,))
        return heard

    def _take_note(self, text: str) -> Heard:
        if not text:
            return self._record_verdict(Verdict("refused", "The note is empty."), _TYPED_NOTE)
        if self.chart.closed:
            return self._record_verdict(Verdict("refused", CLOSED.sentence), text)
        heard = Heard(text=text, outcome="charted", statements=({"statement": "noted"},))
        first = text.split()[0].rstrip(":,")
        number = int(first) if first.isascii() and first.isdigit() and len(first) == 3 else 0
        named = number if self.chart.anatomy.has(number) else None
        tooth = named or self.chart.tooth_in_hand
        self._record(heard, (Noted(text=text, tooth=tooth, verified=True),))
        return heard

    def _record_in_two(self, text: str, sure: Verdict, asked: Heard) -> Heard:
        """Keep an utterance of which a part is asked about, as one thing: what is sure first."""
        kept = {
            "text": text,
            "outcome": sure.outcome,
            "reason": sure.reason,
            "statements": sure.statements,
            "alternatives": (),
        }
        asked = asked.model_copy(update={"part_of": len(self._events) + 1})
        self._record(asked.model_copy(update={**kept, "part_of": None}), sure.happenings, asked)
        return asked

    def _record(
        self, heard: Heard, happenings: Sequence[Happening], asked: Heard | None = None
    ) -> None:
        number = len(self._events) + 1
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
        self._take_in(new)

    def _take_in(self, new: Sequence[Event]) -> None:
        """Let events that are saved have happened."""
        self._events += new
        if any(isinstance(event.what, Undone | Redone) for event in new):
            self.chart = chart_at_station(self._blank, self._events, self._others)
            return
        chart = chart_with(self.chart, [event.what for event in new])
        elsewhere = bool(new) and new[0].sequence in self._others
        self.chart = with_hand_of(chart, self.chart) if elsewhere else chart

    def _sealed(self, new: list[Event]) -> list[Event]:
        """Return new events with the closing among them sealed, where there is one."""
        if self._sign is None:
            return new
        for place, event in enumerate(new):
            if isinstance(event.what, Closed):
                head = head_of(self.case, (*self._events, *new[:place]))
                seal = self._sign(head, event.what.by, event.time)
                closed = event.what.model_copy(update={"seal": seal})
                new[place] = event.model_copy(update={"what": closed})
        return new

    def _verdict(
        self, hypothesis: Hypothesis, reading: Reading, statements: tuple[dict[str, Any], ...]
    ) -> Verdict:
        if hypothesis.trust == "foreign":
            return Verdict("refused", hypothesis.reason or "Not charting.")
        if not reading.parts:
            again = " Say “take a note” again." if self._note_is_due() else ""
            return Verdict("refused", f"No words were understood.{again}")
        if denied := denial(reading, hypothesis.text):
            return Verdict("refused", denied, rule="denied")
        if not reading.is_clear and (part := self._part_of(hypothesis.text)):
            sentence = f"That belongs to {part}: say “go to {part}” first."
            return Verdict("refused", sentence, rule="part")
        commands = [each for each in reading.statements if isinstance(each, Command)]
        if reading.is_clear and commands and commands[0].command in _COMMANDS_ALONE:
            return self._obey(commands[0], hypothesis)
        if commands and commands[0].command == "correction":
            return self._put_right(hypothesis, reading, statements)
        return self._chart_or_ask(hypothesis, reading, statements)

    def _obey(self, command: Command, hypothesis: Hypothesis) -> Verdict:
        if hypothesis.trust != "sure":
            return Verdict("refused", f"“{hypothesis.text}”? Say it again, or press a key.")
        match command.command:
            case "confirm" | "reject":
                return self._answer(confirmed=command.command == "confirm")
            case "choose":
                return self._answer(confirmed=True, reading=int(command.about or 1))
            case "undo":
                return self._undo()
            case "redo":
                return self._redo()
            case "left":
                return Verdict("charted", whats_left(self.chart).sentence)
            case "note" if self.chart.closed:
                return Verdict("refused", CLOSED.sentence)
            case "note":
                return Verdict("charted", "Say the note now.")
            case "close":
                return self._close()
            case "reopen":
                plan = plan_statements(self.chart, [{"statement": REOPEN}])
                return (
                    refusal(plan) if plan.objection else Verdict("charted", None, plan.happenings)
                )
            case "sounds_off":
                return Verdict("charted", "No sounds from now on.")
            case "sounds_on":
                return Verdict("charted", "Answers by sound.")
            case _:
                return Verdict("charted")

    def _close(self) -> Verdict:
        """Ask whether the chart is to be closed as final: not while anything else is asked."""
        asked = [_closes(each) for each in self.doubts]
        if any(asked):
            return Verdict("refused", "That was asked: say yes or no.")
        if asked:
            return Verdict("refused", _doubts_first(len(asked)))
        plan = plan_statements(self.chart, [{"statement": CLOSE, "by": self.case.clinician}])
        assert plan.objection
        if plan.objection.verdict == "impossible":
            return refusal(plan)
        return Verdict("query", plan.objection.sentence, statements=plan.statements)

    def _undo(self) -> Verdict:
        doubts = self.doubts_here
        standing = standing_utterances(self._events)
        last = standing[-1][0].utterance if standing else None
        just_asked = bool(doubts) and self._was_just_asked(doubts[-1])
        if just_asked and (last is None or doubts[-1].heard.part_of != last):
            return self._answer(confirmed=False)
        if last is None:
            return Verdict("refused", "There is nothing to undo.")
        if last in self._others:
            return Verdict("refused", _CHARTED_ELSEWHERE)
        if any(isinstance(each.what, Closed | Reopened) for each in standing[-1]):
            return Verdict("refused", "Closing a chart and opening it again are not undone.")
        parts = asked_with(doubts, last)
        set_aside = tuple(_settled(each, "rejected") for each in parts)
        return Verdict("charted", happenings=(*set_aside, Undone(of=last)))

    def _redo(self) -> Verdict:
        undone = undone_utterances(self._events)
        if not undone:
            return Verdict("refused", "There is nothing to redo.")
        if undone[-1][0].utterance in self._others:
            return Verdict("refused", _CHARTED_ELSEWHERE)
        return Verdict("charted", happenings=(Redone(of=undone[-1][0].utterance),))

    def _answer(self, confirmed: bool, reading: int = 1, number: int | None = None) -> Verdict:
        doubts = self.doubts if number is not None else self.doubts_here
        meant = [each for each in doubts if number in (None, each.number)]
        if not meant and self.doubts and number is None:
            return Verdict("refused", _ASKED_ELSEWHERE)
        if not meant:
            return Verdict("refused", "Nothing was asked.")
        asked = with_followers(doubts, meant[-1])
        if not confirmed:
            settled = tuple(Settled(of=each.number, answer="rejected") for each in asked)
            return Verdict("charted", happenings=settled)
        return self._settle(asked, "confirmed", reading)

    def _settle(self, asked: Sequence[Doubt], answer: Answer, reading: int = 1) -> Verdict:
        """Chart what doubts hold, by that reading of the first, as one thing said, unless a rule
        forbids it. A tooth that was taken in hand since then stays in hand."""
        waiting = held(asked) if reading == 1 else held_instead(asked, reading)
        if isinstance(waiting, str):
            return Verdict("refused", waiting)
        if _closes(asked[0]) and len(self.doubts) > len(asked):
            return Verdict("refused", _doubts_first(len(self.doubts) - len(asked)))
        standing = standing_utterances(self._events)
        charted_since = bool(standing) and standing[-1][0].utterance > asked[0].number
        if charted_since and any(each["statement"] == "correction" for each in waiting):
            return Verdict("refused", "More was charted since: say the correction again.")
        plan = self._plan([by_number(each) for each in waiting])
        if plan.objection and plan.objection.verdict == "impossible":
            return refusal(plan)
        if plan.objection and plan.objection.sentence != asked[-1].heard.reason:
            again = tuple(Settled(of=doubt.number, answer="rejected") for doubt in asked)
            return Verdict("query", plan.objection.sentence, again, plan.statements)
        first, *followers = asked
        settled = (
            _settled(first, answer, reading),
            *(_settled(doubt, answer) for doubt in followers),
        )
        if first.number in self._others:
            # The tooth that they have in hand there is not the one in hand here.
            found = [each for each in plan.happenings if each.event not in CHOICES]
            return Verdict("charted", happenings=(*settled, *found))
        chosen_since = last_choice(self._own) > asked[-1].number
        stay = _taken_in_hand(self.chart) if chosen_since else ()
        return Verdict("charted", happenings=(*settled, *plan.happenings, *stay))

    def _plan(self, statements: Sequence[dict[str, Any]]) -> Plan:
        if any(each["statement"] == "correction" for each in statements):
            return plan_correction(self.chart, said_last(self._own, statements), statements)
        return plan_statements(self.chart, statements)

    def _known_teeth(self) -> Chart:
        """Return the chart with the teeth that a question is open about passed over: they are not
        among "the rest of the mouth" before it is answered."""
        open_teeth = teeth_asked_about(self.doubts)
        if not open_teeth:
            return self.chart
        return self.chart.model_copy(update={"skipped": self.chart.skipped | open_teeth})

    def _chart_or_ask(
        self, hypothesis: Hypothesis, reading: Reading, statements: tuple[dict[str, Any], ...]
    ) -> Verdict:
        understood = clear(statements)
        if not understood:
            return not_understood(hypothesis)
        waiting = doubt_about_tooth(self._own)
        plan = plan_statements(self._known_teeth(), understood)
        leans = plan.leans or moves_on(understood)
        if waiting and leans:
            return self._follow(waiting, understood)
        impossible = plan.objection is not None and plan.objection.verdict == "impossible"
        if leans and self._hand_is_unknown():
            return Verdict("refused", _TOOTH_ELSEWHERE, statements=statements, rule="tooth")
        if tooth_was_refused(self._own) and leans and not impossible:
            reason = "The tooth named last was refused: say which tooth."
            return Verdict("refused", reason, statements=statements, rule="tooth")
        if plan.objection and plan.objection.verdict == "impossible":
            return refusal(plan)
        if not plan.happenings:
            return not_understood(hypothesis)
        certain = reading.is_clear and hypothesis.trust == "sure"
        repeated = [each for each in self.doubts_here if each.reading_of(plan.statements)]
        if repeated and certain:
            number = repeated[-1].reading_of(plan.statements) or 1
            verdict = self._settle(repeated[-1:], "repeated", number)
            return replace(verdict, statements=plan.statements)
        if (in_part := self._ask_in_part(hypothesis, reading)) is not None:
            return in_part
        asked = question(hypothesis, reading, plan)
        if asked:
            kept = tuple(each for each in statements if each["statement"] == "unclear")
            return Verdict(
                "query",
                asked,
                tuple(each for each in plan.happenings if certain and each.event in CHOICES),
                (*plan.statements, *kept),
                alternatives=self._alternatives(hypothesis, reading, plan),
            )
        remarks = " ".join(plan.remarks) or None
        again = [(each, each.reading_within(plan.statements)) for each in self.doubts_here]
        settled = tuple(_settled(each, "repeated", number) for each, number in again if number)
        return Verdict("charted", remarks, (*settled, *plan.happenings), plan.statements)

    def _hand_is_unknown(self) -> bool:
        """Whether another station answered what was asked here about the tooth, and none was named
        here since: what is in hand here may not be what the examiner has in hand."""
        return self._tooth_answered_elsewhere > last_choice(self._own)

    def _ask_in_part(self, hypothesis: Hypothesis, reading: Reading) -> Verdict | None:
        """Ask about what doubtful words belong to, and chart the rest; None where all of the
        utterance must be asked about, or refused."""
        if hypothesis.trust != "doubtful" or not hypothesis.doubtful_words:
            return None
        part = divided(self.chart, hypothesis, reading, self._reader(hypothesis))
        if part is None:
            return None
        certain = replace(hypothesis, trust="sure", doubtful_words=())
        statements = tuple(as_data(each) for each in part.sure.statements)
        sure = self._chart_or_ask(certain, part.sure, statements)
        if sure.outcome != "charted":
            return None
        plan = plan_statements(chart_with(self.chart, sure.happenings), part.asked)
        asked = question(hypothesis, reading, plan)
        return Verdict(
            "query",
            asked,
            statements=part.asked,
            alternatives=part.alternatives,
            words=part.words,
            sure=sure,
        )

    def _alternatives(
        self, hypothesis: Hypothesis, reading: Reading, plan: Plan
    ) -> tuple[Alternative, ...]:
        if hypothesis.trust != "doubtful" or not reading.is_clear:
            return ()
        may_lean = not doubt_about_tooth(self._own) and not tooth_was_refused(self._own)
        read = self._reader(hypothesis)
        return whole_alternatives(self.chart, hypothesis, plan, read, may_lean)

    def _reader(self, hypothesis: Hypothesis) -> Callable[[str], Reading]:
        """Return what reads another sentence as this one was read."""
        return lambda text: self._read(replace(hypothesis, text=text))

    def _follow(self, doubt: Doubt, statements: Sequence[dict[str, Any]]) -> Verdict:
        named = plan_statements(self.chart, clear(doubt.heard.statements))
        chart = chart_with(self.chart, named.happenings)
        plan = plan_statements(chart, statements)
        if plan.objection and plan.objection.verdict == "impossible":
            return refusal(plan)
        following = tuple({**each, "follows": doubt.number} for each in plan.statements)
        return Verdict("query", f"Waits for: {doubt.heard.text}.", statements=following)

    def _put_right(
        self, hypothesis: Hypothesis, reading: Reading, statements: tuple[dict[str, Any], ...]
    ) -> Verdict:
        doubts = self.doubts_here
        asked = with_followers(doubts) if doubts and self._was_just_asked(doubts[-1]) else ()
        if any(is_change(each) for each in statements):
            statements = tuple(self._named(each) for each in statements)
            asked = asked if is_about(asked, statements) else ()
        if asked and reading.is_clear and hypothesis.trust == "sure":
            right = put_right(asked, statements)
            before = charted_before(self._events, asked[-1].heard)
            right = correct_in_part(right, before, clear(statements))
            if isinstance(right, str):
                return Verdict("refused", right)
            if right is not None:
                return self._put_doubt_right(hypothesis, reading, asked, right)
        plan = self._plan(clear(statements))
        if plan.leans and self._hand_is_unknown():
            return Verdict("refused", _TOOTH_ELSEWHERE)
        if plan.leans and doubt_about_tooth(self._own):
            return Verdict("refused", "Which tooth is in doubt: answer that first.")
        if plan.objection and plan.objection.verdict == "impossible":
            return refusal(plan)
        doubt = question(hypothesis, reading, plan)
        if doubt:
            return Verdict("query", doubt, statements=plan.statements)
        return Verdict("charted", happenings=plan.happenings, statements=plan.statements)

    def _named(self, statement: dict[str, Any]) -> dict[str, Any]:
        """Return a finding with the tooth in hand filled in, where it names none."""
        if "finding" not in statement or statement["finding"]["tooth"] is not None:
            return statement
        return on_tooth(statement, self.chart.tooth_in_hand)

    def _was_just_asked(self, doubt: Doubt) -> bool:
        return doubt.number == self._heard_of_the_visit[-1].sequence

    def _put_doubt_right(
        self, hypothesis: Hypothesis, reading: Reading, asked: Sequence[Doubt], right: PutRight
    ) -> Verdict:
        """A correction right after a doubt puts it right. It settles it where all that it held was
        spoken again; else what it did not touch is asked again, with the correction."""
        plan = plan_statements(self.chart, right.statements)
        if plan.objection and plan.objection.verdict == "impossible":
            return refusal(plan)
        settled = tuple(Settled(of=doubt.number, answer="rejected") for doubt in asked)
        if not right.certain:
            words = ", ".join(statement_in_words(each) for each in plan.statements)
            return Verdict("query", f"{words}?", settled, plan.statements)
        if (
            reading_back := question(hypothesis, reading, replace(plan, objection=None))
        ) is not None:
            return Verdict("query", reading_back, settled, plan.statements)
        marked = ({"statement": "correction"}, *plan.statements)
        return Verdict("charted", happenings=(*settled, *plan.happenings), statements=marked)


def _closes(doubt: Doubt) -> bool:
    return any(each["statement"] == CLOSE for each in doubt.heard.statements)


def _doubts_first(number: int) -> str:
    return f"{number} {'doubt is' if number == 1 else 'doubts are'} open: answer first, then close."


def _refused_unheard(reason: str, audio: UtteranceAudio) -> Heard:
    return Heard(
        text="…",
        outcome="refused",
        reason=reason,
        rule=MISSED,
        statements=({"statement": MISSED},),
        engine="",
        file=audio.file,
        start_s=audio.start_s,
        end_s=audio.end_s,
    )


def _settled(doubt: Doubt, answer: Answer, reading: int = 1) -> Settled:
    chosen = reading if reading > 1 else None
    return Settled(of=doubt.number, answer=answer, chosen=chosen)


def _is_to_the_tool(what: Happening) -> bool:
    """Whether it was a word to the tool itself, not to the record."""
    return isinstance(what, Heard) and (
        what.outcome == "charted"
        and bool(what.statements)
        and all(each["statement"] in TO_THE_TOOL for each in what.statements)
    )


def _was_missed(what: Happening) -> bool:
    return isinstance(what, Heard) and what.rule == MISSED


def _source(hypothesis: Hypothesis, audio: UtteranceAudio | None) -> dict[str, Any]:
    """Return where an utterance came from, as its event keeps it."""
    at = {} if audio is None else {"start_s": audio.start_s, "end_s": audio.end_s}
    return {"engine": hypothesis.engine, "file": audio.file if audio else None, **at}


def _taken_in_hand(chart: Chart) -> tuple[Happening, ...]:
    """Return what takes in hand again what is in hand now."""
    if chart.several_in_hand:
        return (TeethChosen(teeth=chart.several_in_hand),)
    return () if chart.tooth_in_hand is None else (ToothChosen(tooth=chart.tooth_in_hand),)
