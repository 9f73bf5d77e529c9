"""Kill a session at a random moment, open the case again, and compare it with what was shown.

    python -m tests.reliability.sudden_death [--times 500] [--on-screen 120] [--seed 1]

On the screen, the program runs in a pseudo terminal and is typed to at the pace of a person, or far
faster. Without a screen, a process of its own charts as fast as it can and writes a byte for each
phrase that is on disk. A case is charted over five lives, each of which ends with SIGKILL, some
while the program starts. What was shown is what had been drawn or written; what must be there is
what a session in memory makes of the same phrases. None of what was shown may be missing; what was
on disk and not shown yet is counted.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeAlias

from dictate.chart.case import Case
from dictate.chart.events import Event, Heard
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session
from dictate.store.cases import CaseStore
from tests.benchmarks.terminal import Terminal

ROOT = Path(__file__).resolve().parent.parent.parent
LIVES_OF_A_CASE = 5
OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
ALL = 1 << 30
TEETH = (*range(101, 111), *range(201, 211), *range(301, 312))
TWICE = ("undo", "redo")
"""What is said more than once, and so says nothing of what was shown."""
PACES_S = {"a person's pace": (0.5, 1.0), "a burst": (0.0, 0.25)}
HEADLESS = "no screen"
STARTING = "starting"


@dataclass
class Figures:
    """What came of all lives; `not_shown` counts lives by how many utterances were on disk and not
    shown yet, for each pace."""

    lives: Counter[str] = field(default_factory=Counter)
    shown: int = 0
    kept: int = 0
    not_shown: dict[str, Counter[int]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def take(self, how: str, shown: int, kept: int) -> None:
        """Count a life."""
        self.lives[how] += 1
        self.shown += shown
        self.kept += kept
        self.not_shown.setdefault(how, Counter())[kept - shown] += 1

    def __str__(self) -> str:
        """Return the figures as lines."""
        lines = [
            f"lives ended with SIGKILL: {self.lives.total()}",
            f"utterances shown: {self.shown}; on disk: {self.kept}",
            "on disk and not shown yet, utterances × lives:",
        ]
        for how, counted in self.not_shown.items():
            each = ", ".join(f"{ahead} × {lives}" for ahead, lives in sorted(counted.items()))
            lines.append(f"  {how} ({self.lives[how]} lives): {each}")
        lines.append(f"cases that were not what had been shown: {len(self.wrong)}")
        return "\n".join(lines + self.wrong)


Live: TypeAlias = Callable[[Path, Case, list[str], int, random.Random], tuple[str, int]]
"""Charts phrases from the one of a number on until it is killed; returns how it was typed to, and
how many phrases were shown."""


def phrases(chance: random.Random) -> list[str]:
    """Return what is typed to a case: findings true and impossible, notes, undo and redo."""
    said: list[str] = []
    for number, tooth in enumerate(chance.sample(TEETH, len(TEETH)) * 12):
        phrase = chance.choice(
            [
                f"{tooth} pocket {number % 13} mesial",
                f"{tooth} calculus {number % 6}",
                f"{tooth} gingivitis {number % 4}",
                f"note: observed {number}",
                chance.choice(TWICE),
            ]
        )
        if phrase in TWICE or phrase not in said:
            said.append(phrase)
    return said


def on_screen(
    data: Path, case: Case, said: list[str], begin: int, chance: random.Random
) -> tuple[str, int]:
    """Chart in the program itself, in a pseudo terminal."""
    command = [sys.executable, "-m", "dictate", "chart", case.id, "--no-listen"]
    environment = {**os.environ, "DICTATE_DATA": str(data), "PYTHONPATH": str(ROOT)}
    terminal = Terminal(command, environment, kept=ALL)
    if chance.random() < 0.1:
        time.sleep(chance.uniform(0.0, 2.0))
        terminal.kill()
        return STARTING, 0
    pace = chance.choice(list(PACES_S))
    try:
        terminal.wait_for("TYPING ONLY")
        if begin and said[begin - 1] not in TWICE:
            terminal.wait_for(words_shown(said[begin - 1]))
        type_to(terminal, said[begin:], pace, chance)
    finally:
        terminal.kill()
    drawn = terminal.drawn.decode(errors="replace")
    seen = [
        number
        for number, phrase in enumerate(said[begin:], 1)
        if phrase not in TWICE and words_shown(phrase) in drawn
    ]
    return pace, max(seen, default=0)


def words_shown(phrase: str) -> str:
    """Return how a phrase stands among what was heard; what is being typed has no such marks."""
    return f"“{phrase.removeprefix('note: ')}”"


def type_to(terminal: Terminal, said: Sequence[str], pace: str, chance: random.Random) -> None:
    """Type phrases at a pace until a moment that nobody chose."""
    until = time.monotonic() + chance.uniform(0.0, 2.5)
    for phrase in said:
        terminal.press(phrase + "\r")
        rest = min(until, time.monotonic() + chance.uniform(*PACES_S[pace]))
        while (left := rest - time.monotonic()) > 0:
            terminal.read(left)
        if rest == until:
            return


def headless(
    data: Path, case: Case, said: list[str], begin: int, chance: random.Random
) -> tuple[str, int]:
    """Chart in a process without a screen, which writes a byte when a phrase is on disk."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        _chart_until_killed(data, case.id, said[begin:], writing)
    os.close(writing)
    with os.fdopen(reading, "rb") as lines:
        first = lines.read(1) if chance.random() > 0.1 else b""
        time.sleep(chance.uniform(0.0, 0.1))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        shown = first + lines.read()
    return HEADLESS, len(shown)


def _chart_until_killed(data: Path, case_id: str, said: Sequence[str], shown: int) -> None:
    """Chart, write a byte for each phrase that is on disk, and never return."""
    try:
        store = CaseStore(data / "cases.sqlite")
        case, events = store.load(case_id)
        session = Session(
            case, spoken_languages(), events, save=lambda new: store.append(case.id, new)
        )
        for phrase in said:
            session.type_text(phrase)
            os.write(shown, b".")
        time.sleep(60)
    finally:
        os._exit(1)


def contents(events: Sequence[Event]) -> list[object]:
    """Return what events say, without when."""
    return [(each.sequence, each.utterance, each.what) for each in events]


def heard_in(events: Sequence[Event]) -> int:
    """Return how many phrases events hold."""
    return sum(isinstance(each.what, Heard) for each in events)


def one_case(live: Live, data: Path, name: str, lives: int, seed: int, figures: Figures) -> None:
    """Chart one case over some lives, and compare it after each."""
    chance, path = random.Random(f"{name} {seed}"), data / "cases.sqlite"
    case = Case(id=name, species="dog", opened=OPENED, animal="Brindle")
    CaseStore(path).add_case(case)
    said, events = phrases(chance), ()
    for _ in range(lives):
        before = heard_in(events)
        how, shown = live(data, case, said, before, chance)
        loaded = CaseStore(path).load(case.id)[1]
        kept = heard_in(loaded) - before
        expected = Session(case, spoken_languages(), events)
        for phrase in said[before : before + kept]:
            expected.type_text(phrase)
        figures.take(how, shown, kept)
        if kept < shown:
            figures.wrong.append(f"{name}, {how}: {shown} shown, {kept} kept")
        again = Session(case, spoken_languages(), loaded)
        if contents(loaded) != contents(expected.events) or again.chart != expected.chart:
            figures.wrong.append(f"{name}, {how}: it is not what the phrases make")
        events = loaded


def run(live: Live, times: int, seed: int, figures: Figures) -> None:
    """End so many lives."""
    with tempfile.TemporaryDirectory() as folder:
        for first in range(0, times, LIVES_OF_A_CASE):
            lives = min(LIVES_OF_A_CASE, times - first)
            one_case(
                live,
                Path(folder),
                f"{live.__name__.replace('_', '-')}-{first}",
                lives,
                seed,
                figures,
            )


def main() -> None:
    """Print the figures; exit code 1 where a case was not what had been shown."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=500)
    parser.add_argument("--on-screen", type=int, default=120)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    figures = Figures()
    run(headless, given.times - given.on_screen, given.seed, figures)
    print(figures, flush=True)
    run(on_screen, given.on_screen, given.seed, figures)
    print(figures)
    sys.exit(1 if figures.wrong else 0)


if __name__ == "__main__":
    main()
