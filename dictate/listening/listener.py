"""Listen in the background: a source, cut into utterances, recognised, and told to a callback.

The thread never touches the chart: whoever it tells decides what to do, on their own thread.

An utterance is over only after a silence that is longer than a pause within one. It is recognised
as soon as it may be over, while that silence lasts; if speech goes on, that work is thrown away.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from dictate.errors import DictateError
from dictate.grammar.spoken import WAITING
from dictate.sounds.turns import CaptureClock, Turns
from dictate.speech.audio import SAMPLE_RATE, AudioSource, Samples, UtteranceAudio
from dictate.speech.engine_process import EngineProcess
from dictate.speech.level import is_clipping, level_dbfs
from dictate.speech.recogniser import NOTE, Closes, Hypothesis, NotDecodedError, Recogniser
from dictate.speech.segmentation import (
    Segmenter,
    SegmenterSettings,
    SegmentEvent,
    SpeechAudio,
    SpeechBegan,
    SpeechEnded,
    SpeechPaused,
)


@dataclass(frozen=True)
class Level:
    """How loud the last block was, in dBFS, and whether it was clipped."""

    dbfs: float
    clipping: bool


@dataclass(frozen=True)
class Partial:
    """The words so far of an utterance that is being spoken; "" once it is over."""

    text: str


@dataclass(frozen=True)
class Understood:
    """An utterance has ended: what the engine makes of it, its audio, and what was listened for
    (None where nobody was asked)."""

    hypothesis: Hypothesis
    audio: UtteranceAudio
    listened_for: str | None = None


@dataclass(frozen=True)
class Missed:
    """An utterance has ended whose beginning could not be heard: it was said under a sound of the
    tool, or before listening started. It was not recognised, since the rest of it may mean
    something else."""

    audio: UtteranceAudio


@dataclass(frozen=True)
class Undecoded:
    """An utterance has ended on which the engine failed, and failed again; and what was listened
    for."""

    audio: UtteranceAudio
    listened_for: str | None = None


@dataclass(frozen=True)
class EngineEnded:
    """The engine failed, and is begun anew; what it was at will be decoded again."""


@dataclass(frozen=True)
class Stopped:
    """Listening is over: the source has ended, or `problem` says what a person can do."""

    problem: str | None = None


ListeningEvent: TypeAlias = (
    Level | Partial | Understood | Missed | Undecoded | EngineEnded | Stopped
)
Tell: TypeAlias = Callable[[ListeningEvent], None]


_PRE_ROLL_S = SegmenterSettings().pre_roll_s
_A_FRAME_S = 0.03
_AT_ONCE_S = 0.12
"""Speech that begins so soon after a gap may have begun inside it."""


@dataclass(frozen=True, eq=False)
class _Ahead:
    """What was made in a pause of the samples, shape (n,), of the utterance up to there."""

    hypothesis: Hypothesis
    samples: Samples
    listened_for: str | None

    def holds_for(self, samples: Samples, listened_for: str | None) -> bool:
        return listened_for == self.listened_for and np.array_equal(samples, self.samples)


_IN_VAIN = 0.25
"""Of the sound that is heard, this share may be recognised in vain: it bounds the work where
somebody makes many pauses within utterances."""
_IN_VAIN_AT_MOST_S = 12.0
"""What was not made use of is kept up to this (s of sound)."""

CUT_SHORT = "It was cut short when listening stopped."


class Listener(threading.Thread):
    """A thread that listens to `source` until it ends or `stop` is called.

    `context` says what to listen for; it is asked for every block of sound. Where it changes to
    WAITING, the utterance that is running ends there; where it changes back, one that is running
    was begun unheard. With `turns`, what is captured while the tool makes a sound is withheld;
    `clock` tells when a block was captured.
    """

    def __init__(
        self,
        source: AudioSource,
        make_recogniser: Callable[[], Recogniser],
        tell: Tell,
        context: Callable[[], str] | None = None,
        turns: Turns | None = None,
        clock: CaptureClock | None = None,
    ) -> None:
        super().__init__(name="listener", daemon=True)
        self._source = source
        self._make_recogniser = make_recogniser
        self._tell = tell
        self._context = context
        self._turns = turns
        self._clock = clock or CaptureClock()
        self._exit = threading.Event()
        self._segmenter = Segmenter()
        self._listened_for: str | None = None
        self._is_running = False
        self._taken_s = 0.0
        self._pushed_s = 0.0
        self._begun_s = 0.0
        self._gaps_s: list[float] = []
        self._ahead: _Ahead | None = None
        self._spare_s = _IN_VAIN_AT_MOST_S

    def stop(self) -> None:
        """Ask the thread to end; it ends within a block of audio."""
        self._exit.set()

    def run(self) -> None:
        """Listen; the last thing told is always Stopped."""
        recogniser: Recogniser | None = None
        try:
            recogniser = self._make_recogniser()
            self._listen(recogniser)
            self._tell(Stopped())
        except DictateError as error:
            self._tell(Stopped(str(error)))
        except Exception as error:  # a thread that dies unheard would leave the screen waiting
            self._tell(Stopped(f"Listening has failed ({error}): go on by keyboard."))
        finally:
            if isinstance(recogniser, Closes):
                recogniser.close()
            if self._turns is not None:
                self._turns.hears_no_more()

    def _listen(self, recogniser: Recogniser) -> None:
        for block in self._blocks(recogniser):
            if self._exit.is_set():
                return
            self._tell(Level(level_dbfs(block), is_clipping(block)))
            self._ask_context(recogniser)
            self._hear(block, recogniser)
        for event in self._segmenter.flush():
            self._take(event, recogniser)

    def _blocks(self, recogniser: Recogniser) -> Iterator[Samples]:
        """Yield the blocks of the source. Where it fails, as a microphone that is unplugged, what
        was being said is not lost: it ends there."""
        try:
            yield from self._source.blocks()
        except Exception:
            self._end_here(recogniser)
            raise

    def _hear(self, block: Samples, recogniser: Recogniser) -> None:
        length_s = _length_s(block)
        self._spare_s = min(_IN_VAIN_AT_MOST_S, self._spare_s + _IN_VAIN * length_s)
        began, ended = self._clock.captured(length_s)
        if self._turns is not None and self._turns.is_own_sound(began, ended):
            self._mark_gap()
        else:
            self._pushed_s += length_s
            for event in self._segmenter.push(block):
                self._take(event, recogniser)
        self._taken_s += length_s
        if self._turns is not None:
            self._turns.hears(ended, self._is_running and not self._is_waiting)

    @property
    def _is_waiting(self) -> bool:
        return self._listened_for == WAITING

    def _ask_context(self, recogniser: Recogniser) -> None:
        if self._context is None:
            return
        wanted, before = self._context(), self._listened_for
        if before is not None and wanted == WAITING != before:
            self._end_here(recogniser)
        elif before == WAITING != wanted:
            self._mark_gap()
        self._listened_for = wanted

    def _mark_gap(self) -> None:
        """Remember that what comes next does not follow on what was heard last."""
        if self._gaps_s[-1:] != [self._pushed_s]:
            self._gaps_s = [*self._gaps_s, self._pushed_s]

    def _end_here(self, recogniser: Recogniser) -> None:
        """End the utterance that is running: the rest of it is said while not listening. Unless it
        was over already, whoever said it has to confirm it."""
        for event in self._segmenter.flush():
            self._take(event, recogniser, over_at_s=self._pushed_s)
        self._pushed_s, self._gaps_s, self._is_running = 0.0, [], False
        self._tell(Partial(""))

    def _take(
        self, event: SegmentEvent, recogniser: Recogniser, over_at_s: float | None = None
    ) -> None:
        match event:
            case SpeechBegan(start_s):
                self._is_running = True
                self._begun_s = self._taken_s - self._pushed_s + start_s
                self._ahead = None
                self._attend(recogniser)
                recogniser.start()
            case SpeechAudio(samples):
                self._resume(recogniser)
                words = recogniser.feed(samples)
                if not self._is_waiting:
                    self._tell(Partial(words))
            case SpeechPaused(utterance):
                self._recognise_ahead(utterance, recogniser)
            case SpeechEnded(utterance):
                self._is_running = False
                self._tell(Partial(""))
                self._judge(utterance, recogniser, over_at_s)
            case _:
                self._is_running = False
                self._throw_away()
                self._tell(Partial(""))

    def _judge(
        self, utterance: UtteranceAudio, recogniser: Recogniser, over_at_s: float | None
    ) -> None:
        missed = self._is_missed(utterance)
        self._gaps_s = [gap for gap in self._gaps_s if gap >= utterance.end_s]
        audio = replace(
            utterance,
            start_s=self._begun_s,
            end_s=self._begun_s + utterance.end_s - utterance.start_s,
        )
        if missed:
            if not self._is_waiting:
                self._tell(Missed(audio))
            return
        self._attend(recogniser)
        try:
            hypothesis = self._recognise(utterance.samples, recogniser)
        except NotDecodedError:
            if not self._is_waiting:
                self._tell(Undecoded(audio, self._listened_for))
            return
        went_on = over_at_s is not None and utterance.end_s > over_at_s - _A_FRAME_S
        if went_on and hypothesis.trust != "foreign":
            hypothesis = replace(hypothesis, trust="doubtful", reason=CUT_SHORT, doubtful_words=())
        self._tell(Understood(hypothesis, audio, self._listened_for))

    def _attend(self, recogniser: Recogniser) -> None:
        if self._listened_for is not None:
            recogniser.attend(self._listened_for)

    def _is_missed(self, utterance: UtteranceAudio) -> bool:
        spoken_s = utterance.start_s + _PRE_ROLL_S - _AT_ONCE_S
        return any(spoken_s <= gap < utterance.end_s for gap in self._gaps_s)

    def _recognise_ahead(self, utterance: UtteranceAudio, recogniser: Recogniser) -> None:
        """Recognise an utterance that may be over. A note is left until it is: it has many pauses,
        and general English takes long."""
        if self._listened_for == NOTE or self._is_missed(utterance):
            return
        if _length_s(utterance.samples) > self._spare_s:
            return
        self._attend(recogniser)
        try:
            hypothesis = recogniser.finish(utterance.samples)
        except NotDecodedError:  # it will be told when the utterance is over
            return
        self._ahead = _Ahead(hypothesis, utterance.samples, self._listened_for)

    def _recognise(self, samples: Samples, recogniser: Recogniser) -> Hypothesis:
        if self._ahead is not None and self._ahead.holds_for(samples, self._listened_for):
            return self._ahead.hypothesis
        self._resume(recogniser)
        return recogniser.finish(samples)

    def _resume(self, recogniser: Recogniser) -> None:
        """Throw away what was recognised ahead, and bring the engine, for which the utterance was
        over, to where it was before."""
        if self._ahead is None:
            return
        recogniser.start()
        recogniser.feed(self._ahead.samples)
        self._throw_away()

    def _throw_away(self) -> None:
        if self._ahead is not None:
            self._spare_s -= _length_s(self._ahead.samples)
            self._ahead = None


def _length_s(samples: Samples) -> float:
    return len(samples) / SAMPLE_RATE


def in_own_process(make: Callable[[], Recogniser], tell: Tell) -> Callable[[], Recogniser]:
    """Return what makes the same engine in a process of its own (see EngineProcess for `make`)."""
    return lambda: EngineProcess(make, lambda: tell(EngineEnded()))
