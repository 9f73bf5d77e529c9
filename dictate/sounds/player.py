"""Plays sounds one after the other in a thread of its own, each when it is the tool's turn."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Protocol, TypeAlias

import numpy as np
import soxr

from dictate.errors import DictateError
from dictate.sounds.tones import SOUND_RATE, Sound
from dictate.sounds.turns import Turns

_BLOCK_S = 0.05
_PAUSE_S = 0.12
"""Silence between a tone and the words after it."""


class Output(Protocol):
    """Something that sounds can be played on."""

    def play(self, sound: Sound, may_begin: Callable[[], bool], cut_short: threading.Event) -> None:
        """Make ready, ask `may_begin`, which may wait, and where it agrees play the sound; return
        once it has been heard, or soon after `cut_short` is set. Raises DictateError where there is
        nothing to play on."""
        ...


class SpeakerOutput:
    """The system's own output device, through PortAudio."""

    def play(self, sound: Sound, may_begin: Callable[[], bool], cut_short: threading.Event) -> None:
        """Play as `Output` says."""
        try:
            import sounddevice
        except (ImportError, OSError) as error:
            raise DictateError(
                "No sounds: the PortAudio library is missing; install it (on Debian or Ubuntu: "
                "sudo apt install libportaudio2)."
            ) from error
        try:
            self._play(sounddevice, sound, may_begin, cut_short)
        except (sounddevice.PortAudioError, ValueError) as error:
            raise DictateError(
                "No sounds: no loudspeaker or headphones can be played on; connect them and start "
                "again, or set sounds.tones to false."
            ) from error

    def _play(
        self,
        sounddevice: Any,
        sound: Sound,
        may_begin: Callable[[], bool],
        cut_short: threading.Event,
    ) -> None:
        rate = round(sounddevice.query_devices(None, "output")["default_samplerate"])
        samples = sound if rate == SOUND_RATE else soxr.resample(sound, SOUND_RATE, rate)
        frames = samples.astype(np.float32).reshape(-1, 1)
        block = round(_BLOCK_S * rate)
        with sounddevice.OutputStream(samplerate=rate, channels=1, dtype="float32") as stream:
            if not may_begin():
                return
            for first in range(0, len(frames), block):
                if cut_short.is_set():
                    stream.abort()
                    return
                stream.write(frames[first : first + block])
            # Closing alone would throw away what the device has not played yet.
            stream.stop()


@dataclass(frozen=True)
class Speaking:
    """The tool begins to sound, or has ended."""

    now: bool


@dataclass(frozen=True)
class Silent:
    """There will be no sounds, or no words: what a person can do about it."""

    problem: str


PlayerEvent: TypeAlias = Speaking | Silent


@dataclass(frozen=True)
class Answer:
    """A tone, and what makes the words after it; either may be missing."""

    tone: Sound | None = None
    words: Callable[[], Sound] | None = None


class Player(threading.Thread):
    """A thread that plays answers on `output`, in order, until `stop` is called. What it has to
    say it tells to `tell`, on its own thread; each problem once."""

    def __init__(self, output: Output, turns: Turns, tell: Callable[[PlayerEvent], None]) -> None:
        super().__init__(name="player", daemon=True)
        self._output = output
        self._turns = turns
        self._tell = tell
        self._told: set[str] = set()
        self._waiting: list[Answer] = []
        self._change = threading.Condition()
        self._cut_short = threading.Event()
        self._ended = False

    def play(self, answer: Answer) -> None:
        """Play an answer once those before it have been played. Words that still wait are left
        out: they are about what is over."""
        with self._change:
            waiting = [replace(each, words=None) for each in self._waiting]
            self._waiting = [each for each in waiting if each.tone is not None]
            self._waiting.append(answer)
            self._change.notify()

    def cut(self) -> None:
        """End the answer that is being played, and leave out those that wait."""
        with self._change:
            self._waiting = []
            self._cut_short.set()

    def stop(self) -> None:
        """Ask the thread to end; it ends within a block of sound."""
        with self._change:
            self._ended = True
            self._waiting = []
            self._cut_short.set()
            self._change.notify()

    def run(self) -> None:
        """Play what is given to `play`."""
        while (answer := self._next()) is not None:
            try:
                self._output.play(self._sound(answer), self._begin, self._cut_short)
            except DictateError as error:
                self._tell_once(str(error))
            except Exception as error:  # the chart goes on without sounds
                self._tell_once(f"No sounds: playing has failed ({error}); go on by the screen.")
            finally:
                self._turns.give_back()
                self._tell(Speaking(False))

    def _next(self) -> Answer | None:
        with self._change:
            while not self._waiting and not self._ended:
                self._change.wait()
            if self._ended:
                return None
            self._cut_short.clear()
            return self._waiting.pop(0)

    def _sound(self, answer: Answer) -> Sound:
        parts = [] if answer.tone is None else [answer.tone]
        if answer.words is not None:
            try:
                parts += [np.zeros(round(_PAUSE_S * SOUND_RATE), np.float32), answer.words()]
            except DictateError as error:
                self._tell_once(str(error))
        return np.concatenate([np.zeros(0, np.float32), *parts])

    def _begin(self) -> bool:
        if not self._turns.take(self._cut_short):
            return False
        self._tell(Speaking(True))
        return True

    def _tell_once(self, problem: str) -> None:
        if problem not in self._told:
            self._told.add(problem)
            self._tell(Silent(problem))
