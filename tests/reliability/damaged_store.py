"""Damage the file of the cases in every way that a disk does, and see that none goes unnoticed.

    python -m tests.reliability.damaged_store [--pages 3] [--step 1] [--seed 1]

A file of three invented visits is cut off at every byte of its last pages, a bit of every byte is
changed, each page is emptied, filled with chance, or left as it was before the last of the visits
(a write that the disk only said it did), and the log is cut off at every eighth byte and changed.
Each time the file is opened and every case read: it must be what was kept (with the log cut off:
what had been kept up to then), or the damage must be told. Of some that were told, what can be read
is saved: it must be the beginning of what was charted.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TypeAlias

from dictate.chart.case import Case
from dictate.chart.events import Event
from dictate.errors import DictateError
from dictate.store.cases import CaseStore
from dictate.store.damage import DamagedError
from dictate.store.rescue import rescue
from tests.case_store import keep

PAGE = 4096
EACH_SAVED = 25
"""Of so many damaged files one is saved from."""
PHRASES = (
    "208 calculus 2 gingivitis 1",
    "buccal three two three",
    "309 pocket 5 mesial",
    "404 missing",
    "note: a lump under the tongue",
    "110 recession 2 buccal",
    "undo",
    "104 to 102 calculus 1",
)

Kept: TypeAlias = dict[str, tuple[Case, tuple[Event, ...]]]
Files: TypeAlias = dict[str, bytes]
"""The file and its log, by the ends of their names."""
Damaged: TypeAlias = Iterator[tuple[str, Files]]


@dataclass
class Figures:
    """What came of each kind of damage, and of the events in files that were saved from."""

    outcomes: dict[str, Counter[str]] = field(default_factory=dict)
    events: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        """Return the figures as lines."""
        lines = []
        for kind, outcomes in self.outcomes.items():
            each = ", ".join(f"{outcome} {number}" for outcome, number in outcomes.most_common())
            lines.append(f"{kind}: {outcomes.total()} files: {each}")
        lines.append(f"saved: {self.events['saved']} of {self.events['all']} events")
        lines.append(f"unnoticed, or saved as something else: {len(self.wrong)}")
        return "\n".join(lines + self.wrong[:20])


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--pages", type=int, default=3)
    arguments.add_argument("--step", type=int, default=1)
    arguments.add_argument("--seed", type=int, default=1)
    asked = arguments.parse_args()
    figures = run(asked.pages, asked.step, asked.seed)
    print(figures)
    sys.exit(1 if figures.wrong else 0)


def run(pages: int, step: int, seed: int) -> Figures:
    """Damage files and return what came of it: every `step`-th byte, cut off in the last pages."""
    chance = random.Random(seed)
    figures = Figures()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        older, logged, kept, had = _made(place)
        whole = {"": logged[""], "-wal": b""} | _checkpointed(place, logged)
        kinds: dict[str, Damaged] = {
            "cut off": _cut(whole, "", max(0, len(whole[""]) - pages * PAGE), step),
            "a bit changed": _flipped(whole, "", step, chance),
            "a page emptied, of chance, or older": _pages(whole, older, chance),
            "log cut off": _cut(logged, "-wal", 0, step * 8),
            "a bit of the log changed": _flipped(logged, "-wal", step * 8, chance),
        }
        for kind, damaged in kinds.items():
            # What a log lost was never there: the case is as it was one utterance earlier, or more.
            is_log = "log" in kind
            outcomes = figures.outcomes.setdefault(kind, Counter())
            for number, (where, files) in enumerate(damaged):
                path = place / "damaged" / "cases.sqlite"
                _write(path, files)
                outcome = _outcome(path, kept, had if is_log else None)
                outcomes[outcome.partition(":")[0]] += 1
                if outcome.startswith("unnoticed"):
                    figures.wrong.append(f"{kind}, {where}: {outcome}")
                if outcome.startswith("told") and number % EACH_SAVED == 0:
                    _write(path, files)
                    _save(path, kept, figures, f"{kind}, {where}")
    return figures


def _made(folder: Path) -> tuple[Files, Files, Kept, dict[str, list[int]]]:
    """Return a file before its last visit, the file with a log that is not in it yet, what is kept
    in it, and at how many events the cases stood after each utterance."""
    path = folder / "made" / "cases.sqlite"
    path.parent.mkdir()
    store = CaseStore(path)
    keep(store, "mila-1", 300, *PHRASES)
    keep(store, "mila-2", 100, *PHRASES[:3])
    store.close()
    older = {"": path.read_bytes()}
    store = CaseStore(path)
    keep(store, "mila-3", 0, *PHRASES)
    logged = {end: path.with_name(path.name + end).read_bytes() for end in ("", "-wal")}
    kept = {case_id: store.load(case_id) for case_id in store.ids()}
    store.close()
    had = {
        case_id: [0, *(n for n, each in enumerate(events, 1) if _ends(events, n, each))]
        for case_id, (_, events) in kept.items()
    }
    return older, logged, kept, had


def _ends(events: tuple[Event, ...], number: int, event: Event) -> bool:
    """Return whether an event is the last of its utterance."""
    return number == len(events) or events[number].utterance != event.utterance


def _checkpointed(folder: Path, files: Files) -> Files:
    """Return the file with all that stood in its log."""
    path = folder / "whole" / "cases.sqlite"
    _write(path, files)
    CaseStore(path).close()
    return {"": path.read_bytes()}


def _cut(files: Files, end: str, first: int, step: int) -> Damaged:
    whole = files[end]
    for length in range(first, len(whole), step):
        yield f"at {length} of {len(whole)}", {**files, end: whole[:length]}


def _flipped(files: Files, end: str, step: int, chance: random.Random) -> Damaged:
    for place in range(0, len(files[end]), step):
        changed = bytearray(files[end])
        changed[place] ^= 1 << chance.randrange(8)
        yield f"byte {place}", {**files, end: bytes(changed)}


def _pages(files: Files, older: Files, chance: random.Random) -> Damaged:
    whole = files[""]
    for start in range(0, len(whole), PAGE):
        for what, page in (
            ("emptied", bytes(PAGE)),
            ("of chance", chance.randbytes(PAGE)),
            ("older", older[""][start : start + PAGE]),
        ):
            if len(page) == PAGE:
                damaged = whole[:start] + page + whole[start + PAGE :]
                yield f"page {start // PAGE + 1} {what}", {**files, "": damaged}


def _write(path: Path, files: Files) -> None:
    shutil.rmtree(path.parent, ignore_errors=True)
    path.parent.mkdir()
    for end, content in files.items():
        if content or not end:
            path.with_name(path.name + end).write_bytes(content)
    # An empty file that is new may be one that is just being made.
    os.utime(path, (1, 1))


def _outcome(path: Path, kept: Kept, had: dict[str, list[int]] | None) -> str:
    """Return what reading a file came to; `had` are lengths that a case may have come back to."""
    try:
        store = CaseStore(path)
    except DictateError as error:
        return "told as it is opened" if isinstance(error, DamagedError) else f"unnoticed: {error}"
    try:
        return _read(store, kept, had)
    except DictateError as error:
        if isinstance(error, DamagedError) or "newer dictate" in str(error):
            return "told as the case is opened"
        return f"unnoticed: {error}"
    finally:
        store.close()


def _read(store: CaseStore, kept: Kept, had: dict[str, list[int]] | None) -> str:
    there = {each.case.id: each.case for each in store.cases()}
    shorter = False
    for case_id, (case, events) in kept.items():
        if case_id not in there:
            if had is None:
                return f"unnoticed: {case_id} is gone"
            shorter = True
            continue
        found_case, found = store.load(case_id)
        if found_case != case or there[case_id] != case or found != events[: len(found)]:
            return f"unnoticed: {case_id} is another"
        if len(found) < len(events):
            if had is None or len(found) not in had[case_id]:
                return f"unnoticed: {case_id} is shorter"
            shorter = True
    return "as before an utterance" if shorter else "as it was"


def _save(path: Path, kept: Kept, figures: Figures, where: str) -> None:
    rescue(path, date(2026, 5, 4), as_damaged=True)
    store = CaseStore(path)
    for case_id, (case, events) in kept.items():
        figures.events["all"] += len(events)
        if case_id in store.ids():
            found_case, found = store.load(case_id)
            figures.events["saved"] += len(found)
            if found != events[: len(found)] or (found_case != case and "bit" not in where):
                figures.wrong.append(f"{where}: {case_id} was saved as something else")
    store.close()


if __name__ == "__main__":
    main()
