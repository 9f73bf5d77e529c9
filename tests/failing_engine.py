"""Engines that die, hang or fail as a test wants; little is imported, for each is made in a process
of its own."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dictate.errors import DictateError
from dictate.speech.audio import Samples
from dictate.speech.recogniser import Hypothesis, Recogniser

SOUND = np.arange(1600, dtype=np.int16)


@dataclass
class Fake:
    """An engine whose words are how long (samples) the sound is, after its context. Of sound of
    that length it dies, hangs or raises, as often as there are lines yet to be in a file."""

    folder: Path
    dies: int = 0
    hangs: int = 0
    raises: int = 0
    in_feed: bool = False
    times: int = 1

    name = "fake"
    context = ""

    def attend(self, context: str) -> None:
        self.context = context

    def start(self) -> None:
        self.fed = 0

    def feed(self, samples: Samples) -> str:
        self.fed += len(samples)
        if self.in_feed:
            self._fail(self.fed)
        return str(self.fed)

    def finish(self, samples: Samples) -> Hypothesis:
        assert self.fed == len(samples)
        self._fail(len(samples))
        return Hypothesis(f"{self.context} {len(samples)}", trust="sure")

    def _fail(self, length: int) -> None:
        if length not in (self.dies, self.hangs, self.raises):
            return
        file = self.folder / "failed"
        done = file.read_text().count("\n") if file.exists() else 0
        if done >= self.times:
            return
        with file.open("a") as lines:
            lines.write("failed\n")
        if length == self.dies:
            os.kill(os.getpid(), signal.SIGSEGV)
        if length == self.raises:
            raise ValueError("no more")
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTERM})
        time.sleep(600)


@dataclass
class Making:
    """Makes a fake, for as long as there is no file that forbids it."""

    fake: Fake

    def __call__(self) -> Recogniser:
        if (self.fake.folder / "gone").exists():
            raise DictateError("The model is gone: fetch it again.")
        return self.fake


def says_nothing() -> Recogniser:
    raise DictateError("The model is broken: fetch it again.")


def dies_at_once() -> Recogniser:
    os._exit(3)


def heard(engine: Recogniser, samples: Samples) -> str:
    engine.start()
    for at in range(0, len(samples), 480):
        engine.feed(samples[at : at + 480])
    return engine.finish(samples).text
