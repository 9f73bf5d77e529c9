"""Listen for a working day, and to what microphones do wrong.

    python -m tests.reliability.audio_day [--hours 8] [--engine none|sphinx]

Each quarter of an hour is a visit of its own, charted into a store on disk: the dictation of a
whole mouth, silence, a minute of noise, silence. In turn it is heard as it was recorded, clipped
(twelve times too loud), with an offset, and faint. It is taken as fast as may be; a clock of its
own runs with the sound and with the processor time of the program and its engine, as in
tests.benchmarks.delay, so that the figures are those of one core without other work.

Printed for each hour of sound: the time that it took; processor time per second of sound; how long
after the last sound of an utterance it was charted or refused, the median and the most; findings
that were heard right in each of the visits, and those charted though nobody said them; memory. At
the end: how memory grew. With “none” nothing is recognised, which leaves the path of the sound;
“sphinx” recognises in a process of its own, whose memory is printed too.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import numpy as np

from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.listening.engines import EngineMaker
from dictate.listening.listener import Listener, ListeningEvent, Stopped, Undecoded, Understood
from dictate.session.session import Session
from dictate.speech.audio import SAMPLE_RATE, Samples, UtteranceAudio
from dictate.speech.audio_file import AudioFile
from dictate.speech.engine_process import EngineProcess
from dictate.speech.recogniser import Hypothesis, Recogniser
from dictate.store.cases import CaseStore
from tests.benchmarks.delay import Paced, delays_s, in_blocks
from tests.fixture_replay import FIXTURES, MANIFEST, Tally, findings_of

DICTATION = MANIFEST["dictations"][0]
QUARTER_S = 900
WAYS: dict[str, Callable[[Samples], Samples]] = {
    "as it is": lambda said: said,
    "clipped": lambda said: said * 12,
    "offset": lambda said: said + 6000,
    "faint": lambda said: said // 10,
}


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


@dataclass
class Hour:
    """What listening for an hour of sound came to."""

    took_s: float = 0.0
    work_s: float = 0.0
    length_s: float = 0.0
    utterances: int = 0
    delays_s: list[float] = field(default_factory=list)
    visits: list[tuple[str, Tally]] = field(default_factory=list)
    memory_mb: float = 0.0
    engine_mb: float = 0.0

    def __str__(self) -> str:
        """Return the figures as a line."""
        parts = [f"{self.took_s:.0f} s, {self.work_s / self.length_s:.3f} s of work per s of sound"]
        parts.append(f"{self.utterances} utterances")
        if self.delays_s:
            middle, most = statistics.median(self.delays_s), max(self.delays_s)
            parts.append(f"delay {middle:.2f} s, at most {most:.2f} s")
        if self.engine_mb:
            right = (f"{how} {each.right}/{each.wanted}" for how, each in self.visits)
            wrong = sum(each.wrong for _, each in self.visits)
            parts.append(f"right: {', '.join(right)}; wrong: {wrong}")
        parts.append(f"memory {self.memory_mb:.1f} MB")
        if self.engine_mb:
            parts.append(f"engine {self.engine_mb:.1f} MB")
        return "; ".join(parts)


def memory_mb(process: str = "self") -> float:
    """Return the memory of a process that is in use now."""
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def slope(values: list[float]) -> float:
    """Return how much values grow from one to the next, by least squares."""
    return float(np.polyfit(range(len(values)), values, 1)[0])


class Day:
    """A day of visits. `quarters_mb` are the memory of the program and of the engine after each."""

    def __init__(self, folder: Path, engine: str, hour_s: float, tell: bool) -> None:
        self.hours: list[Hour] = []
        self.quarters_mb: list[tuple[float, float]] = []
        self._engine = EngineProcess(EngineMaker("sphinx"), _fail) if engine == "sphinx" else None
        self._languages = spoken_languages()
        self._store = CaseStore(folder / "cases.sqlite")
        self._hour_s = hour_s
        self._tells = tell
        self._session = self._new_session(0)
        self._hour = Hour()
        self._charted: list[tuple[float, UtteranceAudio]] = []
        self._source = Paced(iter(()))

    def listen(self, length_s: float) -> list[Hour]:
        """Listen for so long; return what each hour came to."""
        self._source = Paced(self._blocks(length_s), self._spent)
        made: Callable[[], Recogniser] = lambda: self._engine or Deaf()  # noqa: E731
        Listener(self._source, made, self._take, lambda: self._session.listening_for).run()
        return self.hours

    def _blocks(self, length_s: float) -> Iterator[Samples]:
        began, before, hour_is_over_s = time.monotonic(), 0.0, self._hour_s
        for block in self._visits():
            yield block
            if self._source.length_s < hour_is_over_s - 1e-6:
                continue
            now, work_s = time.monotonic(), self._source.work_s
            self._hour.took_s, self._hour.work_s = now - began, work_s - before
            self._hour.length_s = self._hour_s
            self._hour.memory_mb, self._hour.engine_mb = self._memory_mb()
            self.hours.append(self._hour)
            if self._tells:
                print(f"{hour_is_over_s / 3600:5.2f} h: {self._hour}", flush=True)
            self._hour, began, before = Hour(), now, work_s
            hour_is_over_s += self._hour_s
            if self._source.length_s >= length_s - 1e-6:
                return

    def _visits(self) -> Iterator[Samples]:
        said = np.concatenate(list(AudioFile(FIXTURES / DICTATION["file"]).blocks()))
        heard = {how: _as_samples(change(said.astype(np.int32))) for how, change in WAYS.items()}
        noise = _as_samples(np.random.default_rng(1).normal(0, 300, 60 * SAMPLE_RATE))
        silence = np.zeros(QUARTER_S * SAMPLE_RATE - len(said) - len(noise), np.int16)
        before, after, rest = np.split(silence, [240 * SAMPLE_RATE, 300 * SAMPLE_RATE])
        for number in count():
            how, begins_s = list(WAYS)[number % len(WAYS)], self._source.length_s
            self._session = self._new_session(number + 1)
            for piece in (heard[how], before, noise, after):
                yield from in_blocks(piece)
            self._visit_over(how, begins_s)
            yield from in_blocks(rest)

    def _visit_over(self, how: str, begins_s: float) -> None:
        tally = Tally()
        tally.add(DICTATION["chart"], findings_of(self._session), how)
        self._hour.visits.append((how, tally))
        ends_s = (begins_s + row["end_s"] for row in DICTATION["utterances"])
        self._hour.delays_s += delays_s(self._charted, ends_s)
        self._charted.clear()
        self.quarters_mb.append(self._memory_mb())

    def _take(self, event: ListeningEvent) -> None:
        if isinstance(event, Understood):
            self._session.hear(event.hypothesis, event.audio, event.listened_for)
            self._hour.utterances += 1
            times = replace(event.audio, samples=np.zeros(0, np.int16))
            self._charted.append((self._source.now(), times))
        if isinstance(event, Undecoded) or (isinstance(event, Stopped) and event.problem):
            raise RuntimeError(event)

    def _new_session(self, number: int) -> Session:
        opened = datetime.now(UTC)
        case = Case(id=f"visit-{number}", species=DICTATION["species"], opened=opened)
        self._store.add_case(case)
        return Session(case, self._languages, save=lambda new: self._store.append(case.id, new))

    def _memory_mb(self) -> tuple[float, float]:
        process = self._engine and self._engine.process_id
        return memory_mb(), memory_mb(str(process)) if process else 0.0

    def _spent(self) -> float:
        """Return the processor time (s) of this process and of the engine's."""
        process = self._engine and self._engine.process_id
        clock = (~process << 3) | 2 if process else None  # Linux: the clock of another process
        return time.process_time() + (time.clock_gettime(clock) if clock else 0.0)


def _fail() -> None:
    raise RuntimeError("the engine has ended")


def _as_samples(sound: np.ndarray) -> Samples:
    return np.clip(sound, -32768, 32767).astype(np.int16)


def listen(
    hours: float, engine: str, every_h: float = 1.0, tell: bool = True
) -> tuple[list[Hour], list[tuple[float, float]]]:
    """Listen for so many hours; return what each came to, and the memory of the program and of
    the engine after each visit (MB)."""
    with tempfile.TemporaryDirectory() as folder:
        day = Day(Path(folder), engine, every_h * 3600, tell)
        return day.listen(hours * 3600), day.quarters_mb


def main() -> None:
    """Print the figures; exit code 1 where the last hour took a tenth more memory or delay than
    the first."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=8)
    parser.add_argument("--every", type=float, default=1)
    parser.add_argument("--engine", choices=("none", "sphinx"), default="none")
    given = parser.parse_args()
    hours, quarters_mb = listen(given.hours, given.engine, given.every)
    first, last = hours[0], hours[-1]
    later = quarters_mb[len(quarters_mb) // 2 :]
    if len(later) > 1:
        grows = [slope([each[at] for each in later]) * 3600 / QUARTER_S for at in (0, 1)]
        print(f"in the second half memory grew by {grows[0]:+.3f} MB an hour", end="")
        print(f", that of the engine by {grows[1]:+.3f}" if first.engine_mb else "")
    grew = [
        last.memory_mb > 1.1 * first.memory_mb,
        last.engine_mb > 1.1 * first.engine_mb,
        bool(first.delays_s and last.delays_s)
        and statistics.median(last.delays_s) > 1.1 * statistics.median(first.delays_s),
    ]
    sys.exit(1 if any(grew) else 0)


if __name__ == "__main__":
    main()
