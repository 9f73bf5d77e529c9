"""A charting session: where speech, phrases and chart come together.

Each utterance ends in one of three ways: it is charted, it is held as a query until a person
settles it, or it is refused. What could not be trusted never changes the chart.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.draft import CLOSED
from dictate.chart.events import Decided, Decision, Event, Heard
from dictate.grammar.spoken import WAITING, SpokenLanguages
from dictate.phrases.reading import read_utterance
from dictate.phrases.statements import Command
from dictate.session.answers import answer
from dictate.session.course import Course
from dictate.session.doubts import Doubt
from dictate.session.edit import Standing, edited, standing_words
from dictate.session.heard import heard_as, of_attention, unheard
from dictate.session.hearing_again import hears_again
from dictate.session.judging import judge
from dictate.session.notes import TYPED_NOTE, UNDECODED, Notes
from dictate.session.statement_data import START, STOP
from dictate.session.statement_words import READINGS
from dictate.session.utterance import Utterance, read
from dictate.session.verdict import TYPED, Verdict
from dictate.speech.audio import Samples, UtteranceAudio
from dictate.speech.recogniser import NOTE, Hypothesis

if TYPE_CHECKING:
    from dictate.integrity.seal import Sign

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
    (`catch_up`) and hears the utterance again (`alone`), against the chart as it then is. What is
    in hand here, undo, corrections and spoken answers are about what was charted here.

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
        self._languages = languages
        self._course = Course(case, events, others, save, now, sign)
        self._notes = Notes(self._course, keep_clip)
        self._is_listening = True
        self._stopped_by_voice = False

    @property
    def case(self) -> Case:
        """The case that is charted."""
        return self._course.case

    @property
    def languages(self) -> SpokenLanguages:
        """What can be said."""
        return self._languages

    @property
    def events(self) -> tuple[Event, ...]:
        """All that has happened, in order."""
        return self._course.events

    @property
    def others(self) -> frozenset[int]:
        """The numbers of the events that another station charted."""
        return self._course.others

    @property
    def chart(self) -> Chart:
        """What all of it comes to."""
        return self._course.chart

    @property
    def heard(self) -> tuple[Event, ...]:
        """The utterances, in order: the events whose `what` is a Heard."""
        return self._course.heard

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """The open doubts, the one asked last at the end; those of other stations before all of
        this one."""
        return self._course.doubts

    @property
    def doubts_here(self) -> tuple[Doubt, ...]:
        """The open doubts that this station asked: a spoken answer is about one of them."""
        return self._course.doubts_here

    def charted_with(self, asked: Heard) -> Heard | None:
        """Return what became of the rest of an utterance, a part of which is asked about; None
        where all of it is."""
        of = (each.what for each in self.events if each.sequence == asked.part_of)
        return next((each for each in of if isinstance(each, Heard)), None)

    def catch_up(self, events: Sequence[Event]) -> bool:
        """Take in what another station charted meanwhile: those of `events`, in order, that are not
        here yet; return whether there were any. What is in hand here stays in hand."""
        return self._course.catch_up(events)

    def alone(self) -> AbstractContextManager[Sequence[Event]]:
        """Keep other stations from charting until the next utterance is kept; enters with what they
        charted that may not be here yet."""
        return nullcontext(())

    def begin_again(self, events: Sequence[Event], others: Collection[int]) -> None:
        """Take `events`, with those of `others` among them, in the place of all there was: what was
        charted here stands after what was charted elsewhere."""
        self._course.begin_again(events, others)

    @property
    def attention(self) -> tuple[bool, bool]:
        """Whether it listens, and whether it was a voice that stopped it."""
        return self._is_listening, self._stopped_by_voice

    @attention.setter
    def attention(self, attention: tuple[bool, bool]) -> None:
        self._is_listening, self._stopped_by_voice = attention

    @property
    def is_listening(self) -> bool:
        """Whether what is said is charted; typed phrases are taken always."""
        return self._is_listening

    @property
    def note_is_due(self) -> bool:
        """Whether what is said next is kept as a note, now or once listening starts again."""
        return self._notes.is_due()

    @property
    def listening_for(self) -> str:
        """What an engine is to listen for: the part of the visit, a note of any words, or what
        starts listening again."""
        if not self._is_listening:
            return WAITING
        return NOTE if self._notes.is_due() else self.chart.context

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
        return self._hear(_typed(words), None)

    @hears_again
    def miss(self, audio: UtteranceAudio) -> Heard:
        """Take an utterance whose beginning nobody heard: it is refused, and since a tooth may have
        been named in it, what follows without a tooth is refused too."""
        heard = unheard("Its beginning was not heard: say it again.", audio)
        self._course.record(heard)
        return heard

    @hears_again
    def keep_undecoded(self, audio: UtteranceAudio, listened_for: str | None = None) -> Heard:
        """Take an utterance on which the engine failed. Its sound is kept, as that of a note; but
        for that it is as one that was missed."""
        if listened_for == NOTE:
            return self._notes.take_spoken(Hypothesis(UNDECODED, trust="doubtful"), audio)
        return self._notes.keep_undecoded(audio)

    @hears_again
    def type_text(self, text: str) -> Heard:
        """Take a typed phrase; return what became of it. What follows "note:" is a note; while a
        doubt is open, a number alone is its reading of that number."""
        # Bytes that are no text come from a terminal as halves of characters, which no file takes.
        text = text.encode(errors="replace").decode()
        words = text.strip()
        if words.lower().startswith(TYPED_NOTE):
            return self._notes.take_typed(words[len(TYPED_NOTE) :].strip())
        typed = _typed(text)
        if words and self._notes.is_due(TYPED) and not self._read(typed).is_only(STOP, START):
            return self._notes.take_typed(words)
        if words in _TYPED_CHOICES and self.doubts_here:
            typed = _typed(_TYPED_CHOICES[words])
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

    @hears_again
    def decide(self, teeth: Sequence[int], rule: str, decision: Decision, text: str = "") -> Heard:
        """Keep what a clinician decided on the proposal of a rule for one tooth or several, as one
        thing said."""
        decided = [Decided(tooth=t, rule=rule, decision=decision, text=text) for t in teeth]
        if self.chart.closed:
            closed = Verdict("refused", CLOSED.sentence)
            return self._course.record_asked(closed, f"{decision}: {rule}")
        heard = Heard(
            text=f"{decision} {', '.join(str(tooth) for tooth in teeth)}: {text or rule}",
            outcome="charted",
            statements=tuple(
                {"statement": "decision", **each.model_dump(exclude={"event"})} for each in decided
            ),
        )
        self._course.record(heard, decided)
        return heard

    @hears_again
    def answer(self, number: int, reading: int) -> Heard:
        """Settle the doubt about utterance `number`, whichever was asked last: `reading` 1 is what
        was heard, 2 or 3 another of its readings, 0 none of them."""
        words = "no" if reading == 0 else "yes" if reading == 1 else f"the {READINGS[reading]}"
        verdict = answer(self._course, reading > 0, max(1, reading), number)
        return self._course.record_asked(verdict, words)

    @hears_again
    def edit(self, standing: Standing, text: str) -> Heard:
        """Put what is typed in the place of what stands, "" to take it back. What cannot be true is
        refused, and nothing changes."""
        reading = self._read(Hypothesis(text, engine=TYPED)).reading if text.strip() else None
        verdict = edited(self.chart, standing, reading)
        instead = text.strip() or "taken back"
        return self._course.record_asked(verdict, f"{standing_words(standing)} → {instead}")

    def _read(self, hypothesis: Hypothesis) -> Utterance:
        return read(self._languages, self.chart.context, hypothesis)

    def _hear(self, hypothesis: Hypothesis, audio: UtteranceAudio | None) -> Heard:
        said = self._read(hypothesis)
        note_is_due = self._notes.is_due()
        if audio is not None and note_is_due and hypothesis.text:
            if said.is_only(STOP):
                return self._attend(False, hypothesis, audio)
            return self._notes.take_spoken(hypothesis, audio)
        verdict = judge(self._course, said, note_is_due)
        heard = heard_as(verdict, said, audio)
        if verdict.sure is not None:
            return self._course.record_in_two(hypothesis.text, verdict.sure, heard)
        if verdict.outcome == "charted" and said.is_only(STOP, START):
            return self._attend(said.is_only(START), hypothesis, audio)
        self._course.record(heard, verdict.happenings)
        return heard

    def _wake(self, hypothesis: Hypothesis, audio: UtteranceAudio | None) -> Heard | None:
        """Listen again where that was said beyond doubt, and was not done by a key meanwhile."""
        if self._is_listening or hypothesis.trust != "sure":
            return None
        reading = read_utterance(self._languages[WAITING], hypothesis.text)
        if reading.statements != (Command(START),):
            return None
        return self._attend(True, hypothesis, audio)

    def _attend(
        self, listening: bool, hypothesis: Hypothesis, audio: UtteranceAudio | None = None
    ) -> Heard:
        """Listen, or listen no more. To stop comes before it is kept: where nothing can be saved,
        it has stopped all the same."""
        waits = self._notes.is_due()
        if listening:
            reason = "Listening. Say the note now." if waits else "Listening."
        else:
            reason = f"Not listening: say “{self.said_to_resume}”."
            reason += " The note waits until then." if waits else ""
            self._stopped_by_voice = self._is_listening and hypothesis.engine != TYPED
            self._is_listening = False
        heard = of_attention(listening, reason, hypothesis, audio)
        self._course.record(heard)
        self._is_listening = listening
        return heard


def _typed(text: str) -> Hypothesis:
    return Hypothesis(text, score=1.0, trust="sure", engine=TYPED)
