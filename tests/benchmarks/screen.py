"""Print how long the screen takes to be there, to answer a key, and to chart what was said.

    python -m tests.benchmarks.screen [start] [keys] [delay]

The program runs in a pseudo terminal and is watched from outside by the clock on the wall, so other
work on the machine counts. “On a free core” is without the time for which the program's main thread
was ready to run and waited for a processor.

start  from the start of the process to the first drawing of the mouth. “cold”: the files of Python,
       the packages and the program were put out of the system's memory before; “first”: nothing is
       compiled to bytecode yet, as after installation.
keys   a key every 50 ms, letters of phrases and the Enter that charts each; from the key to what it
       does being drawn. Without sound, and while a recording is played at the pace of speech and
       faster, decoded in a thread or in a process of its own.
delay  from the last sound of an utterance to its being told as understood, in a thread and in a
       process, at the pace of speech, and the memory of both.
"""

from __future__ import annotations

import os
import statistics
import sys
import sysconfig
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import cycle, product
from pathlib import Path

import numpy as np

from dictate import garbage
from dictate.listening.engines import EngineMaker
from dictate.listening.listener import Listener, ListeningEvent, Tell, Understood, in_own_process
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.audio_file import AudioFile
from dictate.speech.microphone import BLOCK_S
from dictate.speech.recogniser import Recogniser
from tests.benchmarks.delay import AFTER_LAST_SOUND_S
from tests.benchmarks.terminal import Terminal
from tests.fixture_replay import FIXTURES, MANIFEST

ROOT = Path(__file__).resolve().parent.parent.parent
RUNS = 8
KEY_EVERY_S = 0.05
KEYS = 700
MOUTH = " 108 "
PLAYED_S = 60.0
"""So much (s) of the recording is played for the delay."""


class RealTime:
    """A recording played as a microphone gives it: blocks of 30 ms, `speed` times the pace."""

    name = "played"

    def __init__(self, sound: Samples, speed: float = 1.0) -> None:
        self._sound = sound
        self._speed = speed
        self.began = 0.0

    def blocks(self) -> Iterator[Samples]:
        """Yield each block when it has been recorded."""
        length = round(BLOCK_S * SAMPLE_RATE)
        self.began = time.monotonic()
        for start in range(0, len(self._sound), length):
            due = self.began + (start + length) / SAMPLE_RATE / self._speed
            time.sleep(max(0.0, due - time.monotonic()))
            yield self._sound[start : start + length]


def dictation() -> Samples:
    """Return the dictation of a whole mouth."""
    row = MANIFEST["dictations"][0]
    return np.concatenate(list(AudioFile(FIXTURES / row["file"]).blocks()))


def engine_maker(how: str, tell: Tell) -> Callable[[], Recogniser]:
    """Return what makes the embedded engine in this process ("thread") or in one of its own."""
    make = EngineMaker("sphinx")
    return in_own_process(make, tell) if how == "process" else make


def environment(data: str, **more: str) -> dict[str, str]:
    """Return the environment of a program that keeps its data in a folder."""
    return {**os.environ, "DICTATE_DATA": data, "PYTHONPATH": str(ROOT), **more}


def out_of_memory() -> None:
    """Ask the system to keep nothing of Python, the packages and the program in its memory. What
    other programs have in use stays."""
    folders = {sysconfig.get_path(name) for name in ("stdlib", "platlib", "purelib")}
    for path in (p for folder in (*folders, ROOT) for p in Path(folder).rglob("*") if p.is_file()):
        descriptor = os.open(path, os.O_RDONLY)
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        os.close(descriptor)


def start_up(arguments: Sequence[str], how: str, listening: bool) -> tuple[float, float, float]:
    """Start the program once; return after how long (s) the mouth is drawn; the same without what
    it waited for a processor; and after how long it listens."""
    with tempfile.TemporaryDirectory() as data:
        more = {"PYTHONPYCACHEPREFIX": f"{data}/bytecode"} if how == "first" else {}
        if how == "cold":
            out_of_memory()
        command = [sys.executable, "-m", "dictate", *arguments]
        terminal = Terminal(command, environment(data, **more))
        drawn = terminal.wait_for(MOUTH)
        alone = drawn - terminal.waited_s()
        listens = terminal.wait_for("LISTENING") if listening else drawn
        terminal.end()
    return drawn, alone, listens


def print_start() -> None:
    """Print how long the screen takes to be there."""
    print(
        "from the start, median and worst (s)                mouth drawn       on a free core",
        end="",
    )
    print("        listening")
    with tempfile.TemporaryDirectory() as out:
        for arguments in (["chart", "--no-listen"], ["demo", "--out", out]):
            listening = "demo" in arguments
            for how in ("warm", "cold", "first"):
                runs = RUNS if how == "warm" else RUNS // 2
                made = [start_up(arguments, how, listening) for _ in range(runs)]
                line = "".join(_two(values) for values in zip(*made, strict=True))
                print(f"    {' '.join(arguments[:2]):<20}{how:<8}{runs:>3} runs      {line}")


def _two(values: Sequence[float]) -> str:
    return f"{statistics.median(values):>11.2f}{max(values):>8.2f}"


@dataclass
class Pressed:
    """A key that was pressed at a time (s), when the program had waited so long (s) for a
    processor; what the key draws, and its kind."""

    at: float
    waited_s: float
    draws: bytes
    kind: str


@dataclass
class KeyTimes:
    """How long (s) each key took to be drawn, by kind of key: on the wall, and on a free core."""

    taken_s: dict[str, list[float]] = field(default_factory=dict)
    alone_s: dict[str, list[float]] = field(default_factory=dict)
    waiting: list[Pressed] = field(default_factory=list)

    def look(self, terminal: Terminal) -> None:
        """Settle the keys of which something was drawn, with those before them."""
        settled = [n for n, key in enumerate(self.waiting, 1) if key.draws in terminal.drawn]
        if not settled:
            return
        now, waited_s = time.monotonic(), terminal.waited_s()
        for key in self.waiting[: settled[-1]]:
            taken_s = now - key.at
            self.taken_s.setdefault(key.kind, []).append(taken_s)
            self.alone_s.setdefault(key.kind, []).append(taken_s - (waited_s - key.waited_s))
        self.waiting = self.waiting[settled[-1] :]


def key_strokes() -> Iterator[tuple[str, str, bytes]]:
    """Yield keys without end: what to send, its kind, and what it draws ("" where that could be
    anywhere on the screen). Each phrase is typed once in a long while."""
    teeth = [100 * q + t for q in (1, 2, 3, 4) for t in range(1, 9)]
    words = product(("calculus", "gingivitis", "plaque"), (1, 2, 3, 0))
    for (kind, grade), tooth in cycle(product(words, teeth)):
        phrase = f"{tooth} {kind} {grade}"
        for length in range(1, len(phrase) + 1):
            so_far = phrase[:length]
            yield so_far[-1], "letter", f"m{so_far}\x1b".encode() if length > 4 else b""
        yield "\r", "Enter", f"“{phrase}”".encode()


def press_keys(terminal: Terminal, count: int) -> KeyTimes:
    """Press so many keys, one every KEY_EVERY_S however long they take; return their times."""
    times, strokes = KeyTimes(), key_strokes()
    terminal.forget()
    due = time.monotonic()
    for _ in range(count):
        while (left := due - time.monotonic()) > 0:
            if terminal.read(left):
                times.look(terminal)
        keys, kind, draws = next(strokes)
        if draws:
            times.waiting.append(Pressed(time.monotonic(), terminal.waited_s(), draws, kind))
        terminal.press(keys)
        due += KEY_EVERY_S
    until = time.monotonic() + 5
    while times.waiting and time.monotonic() < until:
        if terminal.read(0.05):
            times.look(terminal)
    return times


def print_keys() -> None:
    """Print how long keys take to be drawn."""
    print(f"from a key to what it draws (ms), {KEYS} keys, one every {1000 * KEY_EVERY_S:.0f} ms")
    print(f"    {'':<34}{'letters: median':>16}{'95 %':>7}{'worst':>7}", end="")
    print(f"{'Enter: median':>15}{'95 %':>7}{'worst':>7}{'lost':>6}{'> 100 ms':>9}")
    print_run("no sound", ["none", "1"])
    for speed in ("1", "4", "8"):
        for how in ("thread", "process"):
            print_run(f"{speed} x, {how}", [how, speed])


def print_run(name: str, arguments: Sequence[str]) -> None:
    """Print one line of figures for a run of the program."""
    with tempfile.TemporaryDirectory() as data:
        command = [sys.executable, "-m", "tests.benchmarks.screen", "run", *arguments]
        terminal = Terminal(command, environment(data))
        terminal.wait_for("TYPING ONLY" if arguments[0] == "none" else "LISTENING")
        times = press_keys(terminal, KEYS)
        terminal.end()
    for where, taken in (("", times.taken_s), (", on a free core", times.alone_s)):
        letters, enters = (taken.get(kind, []) for kind in ("letter", "Enter"))
        late = sum(each > 0.1 for each in (*letters, *enters))
        print(f"    {name + where:<34}{_three(letters, 16)}{_three(enters, 15)}", end="")
        print(f"{len(times.waiting):>6}{late:>9}", flush=True)


def _three(values_s: Sequence[float], width: int) -> str:
    ms = [1000 * each for each in values_s]
    return f"{statistics.median(ms):>{width}.0f}{np.percentile(ms, 95):>7.0f}{max(ms):>7.0f}"


def run(how: str, speed: float) -> None:
    """Be the program that is watched: a new case, stored, and the dictation over and over."""
    from dictate.cases.stored import case_store, stored_session
    from dictate.chart.case import Case
    from dictate.screen.app import ChartingApp
    from dictate.session.session import now_utc

    store = case_store()
    case = Case(id="screen", species="dog", opened=now_utc())
    store.add_case(case)
    source = RealTime(np.tile(dictation(), 4), speed)

    def listen(tell: Tell, context: Callable[[], str]) -> Listener:
        return Listener(source, engine_maker(how, tell), tell, context)

    app = ChartingApp(stored_session(store, case), None if how == "none" else listen)
    garbage.look_only_at_what_is_new()
    app.run()


def delays_s(how: str) -> tuple[list[float], list[str]]:
    """Return how long after its last sound each utterance of the dictation was understood, and
    what was understood."""
    sound = dictation()[: round(PLAYED_S * SAMPLE_RATE)]
    source, told = RealTime(sound), list[tuple[float, Understood]]()

    def tell(event: ListeningEvent) -> None:
        if isinstance(event, Understood):
            told.append((time.monotonic() - source.began, event))

    Listener(source, engine_maker(how, tell), tell, lambda: "charting").run()
    spoken = [row["end_s"] - AFTER_LAST_SOUND_S for row in MANIFEST["dictations"][0]["utterances"]]
    delays = [
        at - last
        for at, each in told
        for last in [s for s in spoken if each.audio.start_s < s < each.audio.end_s + 0.2][-1:]
    ]
    return delays, [each.hypothesis.text for _, each in told]


def print_delay() -> None:
    """Print how long utterances take to be understood, in a thread and in a process."""
    print(f"from the last sound to understood (s), {PLAYED_S:.0f} s at the pace of speech")
    texts = []
    for how in ("thread", "process"):
        delays, heard = delays_s(how)
        texts.append(heard)
        print(
            f"    {how:<10}{len(delays):>4} utterances, median {statistics.median(delays):.3f}, "
            f"95 % {np.percentile(delays, 95):.3f}, most {max(delays):.3f}"
        )
    print(f"    the same words: {'yes' if texts[0] == texts[1] else 'NO'}")


def main() -> None:
    parts = {"start": print_start, "keys": print_keys, "delay": print_delay}
    if sys.argv[1:2] == ["run"]:
        return run(sys.argv[2], float(sys.argv[3]))
    for part in sys.argv[1:] or parts:
        parts[part]()


if __name__ == "__main__":
    main()
