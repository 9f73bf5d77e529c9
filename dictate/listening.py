"""Listen in the background: a source, cut into utterances, recognised, and told to a callback.

The thread never touches the chart: whoever it tells decides what to do, on their own thread.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from dictate.errors import DictateError
from dictate.speech.audio import AudioSource, UtteranceAudio
from dictate.speech.level import is_clipping, level_dbfs
from dictate.speech.recogniser import Hypothesis, Recogniser
from dictate.speech.segmentation import Segmenter, SpeechAudio, SpeechBegan, SpeechEnded


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
    """An utterance has ended: what the engine makes of it, and its audio."""

    hypothesis: Hypothesis
    audio: UtteranceAudio


@dataclass(frozen=True)
class Stopped:
    """Listening is over: the source has ended, or `problem` says what a person can do."""

    problem: str | None = None


ListeningEvent: TypeAlias = Level | Partial | Understood | Stopped
Tell: TypeAlias = Callable[[ListeningEvent], None]


class Listener(threading.Thread):
    """A thread that listens to `source` until it ends or `stop` is called. `context` says which
    part of the visit it is; it is asked at the beginning and at the end of every utterance."""

    def __init__(
        self,
        source: AudioSource,
        make_recogniser: Callable[[], Recogniser],
        tell: Tell,
        context: Callable[[], str] | None = None,
    ) -> None:
        super().__init__(name="listener", daemon=True)
        self._source = source
        self._make_recogniser = make_recogniser
        self._tell = tell
        self._context = context
        self._exit = threading.Event()

    def stop(self) -> None:
        """Ask the thread to end; it ends within a block of audio."""
        self._exit.set()

    def run(self) -> None:
        """Listen; the last thing told is always Stopped."""
        try:
            self._listen(self._make_recogniser())
            self._tell(Stopped())
        except DictateError as error:
            self._tell(Stopped(str(error)))
        except Exception as error:  # a thread that dies unheard would leave the screen waiting
            self._tell(Stopped(f"Listening has failed ({error}): go on by keyboard."))

    def _listen(self, recogniser: Recogniser) -> None:
        segmenter = Segmenter()
        for block in self._source.blocks():
            if self._exit.is_set():
                return
            self._tell(Level(level_dbfs(block), is_clipping(block)))
            for event in segmenter.push(block):
                self._take(event, recogniser)
        for event in segmenter.flush():
            self._take(event, recogniser)

    def _take(self, event: object, recogniser: Recogniser) -> None:
        match event:
            case SpeechBegan():
                self._attend(recogniser)
                recogniser.start()
            case SpeechAudio(samples):
                self._tell(Partial(recogniser.feed(samples)))
            case SpeechEnded(utterance):
                self._attend(recogniser)
                hypothesis = recogniser.finish(utterance.samples)
                self._tell(Partial(""))
                self._tell(Understood(hypothesis, utterance))
            case _:
                self._tell(Partial(""))

    def _attend(self, recogniser: Recogniser) -> None:
        if self._context is not None:
            recogniser.attend(self._context())
