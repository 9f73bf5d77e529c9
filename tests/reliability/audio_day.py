"""Listen for a working day, and to what microphones do wrong.

    python -m tests.reliability.audio_day [--hours 8] [--engine none|sphinx]

A recorded dictation is played over and over to the listener, with minutes of silence, a scaler's
noise, an offset and clipping between, as fast as it is taken. Printed for each hour of sound: how
long it took, utterances, and the memory of the process. With “none” nothing is recognised, which
leaves the path of the sound; “sphinx” recognises in a process of its own, whose memory is printed
too.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dictate.listening.engines import EngineMaker
from dictate.listening.listener import Listener, ListeningEvent, Stopped, Undecoded, Understood
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.engine_process import EngineProcess
from dictate.speech.recogniser import Hypothesis, Recogniser
from tests.fixture_replay import FIXTURES

BLOCK = 480


class Deaf:
    """An engine that recognises nothing."""

    name = "deaf"

    def attend(self, context: str) -> None:
        """Listen for nothing."""

    def start(self) -> None:
        """Begin an utterance."""

    def feed(self, samples: Samples) -> str:
        """Return no words."""
        return ""

    def finish(self, samples: Samples) -> Hypothesis:
        """Return no words."""
        return Hypothesis("", trust="foreign")


@dataclass(frozen=True)
class Hour:
    """What listening for an hour of sound came to."""

    took_s: float
    utterances: int
    memory_mb: float
    engine_mb: float

    def __str__(self) -> str:
        """Return the figures as a line."""
        engine = f", engine {self.engine_mb:.1f} MB" if self.engine_mb else ""
        return (
            f"{self.took_s:.1f} s, {self.utterances} utterances, memory {self.memory_mb:.1f} MB"
            f"{engine}"
        )


def dictation() -> Samples:
    """Return the dictation of a whole mouth, shape (n,)."""
    found = sorted((FIXTURES / "whole_mouth").glob("*.flac"))
    return np.concatenate(list(AudioFile(found[0]).blocks()))


def round_of_a_day() -> Samples:
    """Return what is played over and over: a dictation as it is, clipped, and with an offset; two
    minutes of silence; and a minute of noise. Shape (n,)."""
    said = dictation()[: 120 * SAMPLE_RATE].astype(np.int32)
    noise = np.random.default_rng(1).normal(0, 300, 60 * SAMPLE_RATE)
    played = [said, np.zeros(120 * SAMPLE_RATE), said * 12, noise, said + 6000]
    return np.clip(np.concatenate(played), -32768, 32767).astype(np.int16)


class Day:
    """A source that plays a round again and again for so long (s), and tells at each hour."""

    name = "day"

    def __init__(self, length_s: float, every_s: float, tell: Callable[[], None]) -> None:
        self._blocks = round(length_s * SAMPLE_RATE / BLOCK)
        self._every = round(every_s * SAMPLE_RATE / BLOCK)
        self._tell = tell

    def blocks(self) -> Iterator[Samples]:
        """Yield blocks of 30 ms."""
        played = round_of_a_day()
        at = 0
        for number in range(1, self._blocks + 1):
            yield played[at : at + BLOCK]
            at = at + BLOCK if at + 2 * BLOCK <= len(played) else 0
            if number % self._every == 0:
                self._tell()


def memory_mb(process: str = "self") -> float:
    """Return the memory of a process that is in use now."""
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def listen(hours: float, engine: str, every_h: float = 1.0, tell: bool = True) -> list[Hour]:
    """Listen for so many hours; return what each came to."""
    found: list[Hour] = []
    made: list[EngineProcess] = []
    heard = [0]
    began = [time.monotonic()]

    def make() -> Recogniser:
        if engine == "none":
            return Deaf()
        made.append(EngineProcess(EngineMaker("sphinx")))
        return made[-1]

    def hour_over() -> None:
        now = time.monotonic()
        engine_mb = memory_mb(str(made[-1].process_id)) if made else 0.0
        found.append(Hour(now - began[0], heard[0], memory_mb(), engine_mb))
        began[0], heard[0] = now, 0
        if tell:
            print(f"{len(found) * every_h:5.2f} h: {found[-1]}", flush=True)

    def take(event: ListeningEvent) -> None:
        heard[0] += isinstance(event, Understood)
        if isinstance(event, Undecoded) or (isinstance(event, Stopped) and event.problem):
            raise RuntimeError(event)

    source = Day(hours * 3600, every_h * 3600, hour_over)
    Listener(source, make, take, lambda: "charting").run()
    return found


def main() -> None:
    """Print the figures; exit code 1 where memory or time grew by a fifth after the first hour."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=8)
    parser.add_argument("--every", type=float, default=1)
    parser.add_argument("--engine", choices=("none", "sphinx"), default="none")
    given = parser.parse_args()
    hours = listen(given.hours, given.engine, given.every)
    first, last = hours[0], hours[-1]
    grew = last.memory_mb > 1.2 * first.memory_mb or last.engine_mb > 1.2 * first.engine_mb
    sys.exit(1 if grew else 0)


if __name__ == "__main__":
    main()
