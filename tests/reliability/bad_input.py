"""Give the program input that nobody meant, and see that it says so in one sentence.

    python -m tests.reliability.bad_input [--seconds 60] [--seed 1] [kind …]
    python -m tests.reliability.bad_input --guided [--seconds 60] [kind …]
    python -m tests.reliability.bad_input --processes 100 [--seed 1] [kind …]

Kinds: phrase, grammar, case, formulary, record, bundle, backup, audio, settings, words. Inputs are
good ones that were damaged: bits, cuts, pieces moved and doubled, numbers out of range, words of
other places; those of records, bundles and backups also in their structure, with digests that fit
all the same, and forged (bad_imports.py). With --guided, each kind runs under atheris, which looks
for inputs that reach new code (atheris 3.0.0 runs on Python 3.11; it is not installed with the
tests). With --processes, so many inputs of each kind that a command reads from a file are given to
it in a process of its own. Printed for each kind: how many inputs were tried, taken and refused.
Faults: any exception but a DictateError, a chart that changed though the phrase was not charted,
anything that a refused file leaves in the data, a case taken in that cannot be, an input that takes
more than ten seconds of processor time.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from dictate.chart.case import Case
from dictate.chart.case_file import read_case_file
from dictate.errors import DictateError
from dictate.formulary.file import checked_formulary
from dictate.formulary.formulary import EMPTY_FORMULARY
from dictate.grammar import jsgf
from dictate.grammar.pronunciation import OWN_WAYS, OWN_WORDS, with_own_words
from dictate.grammar.sample import sentence
from dictate.grammar.spoken import CHARTING, grammars_folder, spoken_languages
from dictate.session.session import Session
from dictate.settings.page import settings_lines
from dictate.speech.audio_file import AudioFile
from dictate.speech.segmentation import utterances
from tests.reliability import bad_imports
from tests.reliability.bad_imports import UntrueChartError, check_sentence, fresh_home
from tests.reliability.damage import damaged

OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
CASE = Case(id="brindle", species="dog", opened=OPENED, animal="Brindle")
SLOW_S = 10.0


@dataclass
class Figures:
    """What came of the inputs of one kind."""

    outcomes: Counter[str] = field(default_factory=Counter)
    slowest_s: float = 0.0
    faults: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        """Return the figures as a line."""
        of = ", ".join(f"{count} {what}" for what, count in sorted(self.outcomes.items()))
        return (
            f"{self.outcomes.total()} inputs: {of}; slowest {self.slowest_s:.1f} s; "
            f"{len(self.faults)} faults"
        )


def _file(folder: Path, name: str, data: bytes) -> Path:
    path = folder / name
    path.write_bytes(data)
    return path


def phrase(data: bytes, folder: Path) -> None:
    """Type a phrase. Whatever is not charted must leave the chart as it was."""
    session = Session(CASE, spoken_languages(), now=lambda: OPENED)
    session.type_text("208 pocket 5 mesial")
    before = session.chart
    for line in data.decode(errors="surrogateescape").split("\n")[:4]:
        before, heard = session.chart, session.type_text(line)
        changed = (session.chart.findings, session.chart.notes) != (before.findings, before.notes)
        if heard.outcome != "charted" and changed and not session.charted_with(heard):
            raise UntrueChartError(line)
    for event in session.events:
        type(event).model_validate_json(event.model_dump_json())


def grammar(data: bytes, folder: Path) -> None:
    """Load a grammar."""
    jsgf.read(_file(folder, "charting.jsgf", data))


def case(data: bytes, folder: Path) -> None:
    """Read a case entered in a file, as JSON and as TOML."""
    name = "case.json" if data[:1] in (b"{", b"[") else "case.toml"
    read_case_file(_file(folder, name, data), OPENED)


def formulary(data: bytes, folder: Path) -> None:
    """Check a formulary."""
    checked_formulary(_file(folder, "formulary.toml", data))


def audio(data: bytes, folder: Path) -> None:
    """Read a recording, and cut it into utterances."""
    for _ in utterances(AudioFile(_file(folder, "recording.wav", data))):
        pass


def words(data: bytes, folder: Path) -> None:
    """Read own words and pronunciations, which a line of “--” parts."""
    own, _, ways = data.partition(b"--\n")
    _file(folder, OWN_WORDS, own)
    _file(folder, OWN_WAYS, ways)
    language = spoken_languages()[CHARTING]
    with_own_words(language.pronunciations, language.words, folder)


Try = Callable[[bytes, Path], None]
KINDS: dict[str, Try] = {
    "phrase": phrase,
    "grammar": grammar,
    "case": case,
    "formulary": formulary,
    "record": bad_imports.record_file,
    "bundle": bad_imports.bundle,
    "backup": bad_imports.backup,
    "audio": audio,
    "settings": bad_imports.settings_file,
    "words": words,
}
Damage = Callable[[bytes, tuple[bytes, ...], random.Random], bytes]
OWN_DAMAGE: dict[str, Damage] = {
    "record": bad_imports.damaged_record,
    "bundle": bad_imports.damaged_bundle,
    "backup": bad_imports.damaged_backup,
}
"""Kinds that are also damaged with what tells damage (digests, a manifest) made anew."""
COMMANDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "formulary": ("formulary.toml", ("formulary", "check", "formulary.toml")),
    "record": ("record.json", ("import", "record.json")),
    "bundle": ("case.fhir.json", ("import", "case.fhir.json")),
    "backup": ("backup.zip", ("restore", "backup.zip")),
    "audio": ("recording.wav", ("replay", "--engine", "sphinx", "recording.wav")),
    "settings": ("data/settings.toml", ("settings",)),
    "words": ("data/words.txt", ("parse", "208 calculus 2")),
}
"""The file that a kind is in, and the command that reads it."""


@cache
def seeds(kind: str) -> tuple[bytes, ...]:
    """Return good inputs of a kind."""
    match kind:
        case "phrase":
            rules = jsgf.read(grammars_folder() / "charting.jsgf")
            root = "charting.utterance"
            chance = random.Random(1)
            return tuple(sentence(rules, root, chance).encode() for _ in range(300))
        case "grammar":
            return tuple(each.read_bytes() for each in sorted(grammars_folder().glob("*.jsgf")))
        case "case":
            return (
                b'{"species": "cat", "animal": "Mila", "birth_date": "2020-02-29", '
                b'"weight_kg": 4.2, "clinician": "Dr. Ada Lind"}',
                b'species = "dog"\nanimal = "Brindle"\nbirth_date = 2019-03-01\nweight_kg = 12.5\n',
            )
        case "formulary":
            return (EMPTY_FORMULARY.read_bytes(), _signed_formulary())
        case "record":
            return bad_imports.record_seeds()
        case "bundle":
            return bad_imports.bundle_seeds()
        case "backup":
            return bad_imports.backup_seeds()
        case "audio":
            return tuple(_recordings())
        case "settings":
            return (
                settings_lines(lambda each: each.meaning).encode(),
                b'[speech]\nengine = "both"\n',
            )
        case _:
            return (b"niner = nine\n--\nmesial M IY Z IY AH L\nniner N AY N ER\n",)


def _signed_formulary() -> bytes:
    text = EMPTY_FORMULARY.read_text()
    return "\n".join(
        line.removeprefix("# ").removeprefix("#") for line in text.split("\n")
    ).encode()


def _recordings() -> list[bytes]:
    noise = np.random.default_rng(1).normal(0, 0.05, 9_600)
    noise[3000:6000] *= 8
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for form, rate, channels in (
            ("WAV", 16_000, 1), ("WAV", 96_000, 8), ("FLAC", 44_100, 2), ("OGG", 48_000, 1),
            ("AIFF", 8_000, 1), ("W64", 22_050, 2),
        ):  # fmt: skip
            path = Path(folder) / f"seed.{form.lower()}"
            sound = np.repeat(noise[:, np.newaxis], channels, axis=1)
            soundfile.write(path, sound, rate, format=form)
            found.append(path.read_bytes())
    return found


def attempt(kind: str, data: bytes, folder: Path, figures: Figures) -> None:
    """Try an input, and count what came of it."""
    began = time.process_time()
    try:
        KINDS[kind](data, folder)
        figures.outcomes["taken"] += 1
    except DictateError as error:
        figures.outcomes["refused in a sentence"] += 1
        if "Traceback" in str(error) or not str(error).strip():
            figures.faults.append(f"{kind}: {error!r}")
    except Exception as error:
        figures.outcomes["fault"] += 1
        figures.faults.append(f"{kind}: {type(error).__name__}: {str(error)[:300]}: {data[:300]!r}")
    _take_time(kind, data, time.process_time() - began, figures)


def _take_time(kind: str, data: bytes, took_s: float, figures: Figures) -> None:
    figures.slowest_s = max(figures.slowest_s, took_s)
    if took_s > SLOW_S:
        figures.faults.append(f"{kind}: {took_s:.0f} s: {data[:300]!r}")


def run(kind: str, seed: int, seconds: float, times: int = 1 << 30) -> Figures:
    """Try damaged inputs of a kind for so long; return the figures."""
    chance, figures, until = random.Random(seed), Figures(), time.monotonic() + seconds
    good = seeds(kind)
    with tempfile.TemporaryDirectory() as folder:
        for each in (*good, b"", b"\x00", b"\xff" * 1000):
            attempt(kind, each, Path(folder), figures)
        while time.monotonic() < until and figures.outcomes.total() < times:
            attempt(kind, _one_more(kind, chance), Path(folder), figures)
    return figures


def _one_more(kind: str, chance: random.Random) -> bytes:
    """Return a damaged input of a kind."""
    good = seeds(kind)
    return OWN_DAMAGE.get(kind, damaged)(chance.choice(good), good, chance)


def run_processes(kind: str, seed: int, times: int) -> Figures:
    """Give so many inputs of a kind to its command, in processes of their own."""
    chance, figures = random.Random(seed), Figures()
    name, arguments = COMMANDS[kind]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for _ in range(times):
            home = fresh_home(folder)
            data = _one_more(kind, chance)
            _file(folder, name, data)
            began = _time_of_children()
            done = subprocess.run(
                [sys.executable, "-m", "dictate", *arguments],
                env={**os.environ, "DICTATE_DATA": str(home), "PYTHONPATH": str(Path.cwd())},
                cwd=folder,
                capture_output=True,
                text=True,
                errors="replace",
                stdin=subprocess.DEVNULL,
            )
            _take_time(kind, data, _time_of_children() - began, figures)
            figures.outcomes["refused in a sentence" if done.returncode else "taken"] += 1
            try:
                if done.returncode:
                    check_sentence(done.returncode, done.stderr)
            except AssertionError as error:
                figures.faults.append(f"{kind}: {error}: {data[:300]!r}")
    return figures


def _time_of_children() -> float:
    """Return the processor time (s) of all processes that were begun here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def run_guided(kind: str, seconds: int) -> None:
    """Try inputs of a kind under atheris, in this process, which it ends."""
    import atheris

    with tempfile.TemporaryDirectory() as name:
        folder, corpus = Path(name) / "work", Path(name) / "corpus"
        folder.mkdir()
        corpus.mkdir()
        for number, each in enumerate(seeds(kind)):
            (corpus / str(number)).write_bytes(each)

        def one(data: bytes) -> None:
            with suppress(DictateError):
                KINDS[kind](data, folder)

        def changed(data: bytes, most: int, seed: int) -> bytes:
            chance = random.Random(seed)
            if chance.random() < 0.5:
                return bytes(atheris.Mutate(data, most))
            return OWN_DAMAGE[kind](data, seeds(kind), chance)[:most]

        for good in seeds(kind):  # what is loaded when it is first needed is looked at too
            one(good)
        for module in [each for each in sys.modules if each.startswith("dictate.")]:
            for value in list(vars(sys.modules[module]).values()):
                if getattr(value, "__module__", None) == module and callable(value):
                    _instrumented(atheris, value)
        longest = 200_000 if kind in OWN_DAMAGE else 20_000
        flags = [f"-max_total_time={seconds}", "-timeout=20", f"-max_len={longest}"]
        flags += ["-print_final_stats=1"]
        own = {"custom_mutator": changed} if kind in OWN_DAMAGE else {}
        atheris.Setup([sys.argv[0], *flags, str(corpus)], one, **own)
        atheris.Fuzz()


def _instrumented(atheris: Any, value: Any) -> None:
    """Have the code of a function watched, or that of the methods of a class."""
    for each in [value, *vars(value).values()] if isinstance(value, type) else [value]:
        if hasattr(each, "__code__"):
            atheris.instrument_func(each)


def main() -> None:
    """Print the figures; exit code 1 where there was a fault."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=list(KINDS))
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true")
    parser.add_argument("--processes", type=int, default=0)
    parser.add_argument("--in-this-process", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.in_this_process:
        run_guided(given.kinds[0], given.seconds)
    faults = 0
    for kind in given.kinds:
        if given.guided:
            command = [sys.executable, "-m", "tests.reliability.bad_input", kind, "--guided"]
            command += ["--in-this-process", "--seconds", str(given.seconds)]
            done = subprocess.run(command, capture_output=True, text=True, errors="replace")
            lines = done.stderr.splitlines() + done.stdout.splitlines()
            told = [line for line in lines if "number_of_executed" in line or "INFO: seed" in line]
            faults += done.returncode != 0
            print(f"{kind}: {' '.join(told)}; exit code {done.returncode}", flush=True)
            if done.returncode:
                print("\n".join((done.stdout + done.stderr).splitlines()[-30:]))
            continue
        if given.processes and kind not in COMMANDS:
            continue
        if given.processes:
            figures = run_processes(kind, given.seed, given.processes)
        else:
            figures = run(kind, given.seed, given.seconds)
        faults += len(figures.faults)
        print(f"{kind}: {figures}", flush=True)
        print(*dict.fromkeys(each[:400] for each in figures.faults[:8]), sep="\n")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
