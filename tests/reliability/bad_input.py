"""Give the program input that nobody meant, and see that it says so in one sentence.

    python -m tests.reliability.bad_input [--seconds 60] [--seed 1] [--guided] [kind …]

Kinds: phrase, grammar, case, formulary, record, audio, settings, words. Inputs are good ones that
were damaged: bits, cuts, pieces moved and doubled, numbers out of range, words of other places.
With --guided, each kind runs under atheris, which looks for inputs that reach new code (atheris
3.0.0 runs on Python 3.11; it is not installed with the tests). Printed for each kind: how many
inputs were tried, taken and refused. Faults: any exception but a DictateError, a chart that changed
though the phrase was not charted, an input that takes longer than ten seconds.
"""

from __future__ import annotations

import argparse
import random
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

import numpy as np
import soundfile

from dictate.chart.case import Case
from dictate.chart.case_file import read_case_file
from dictate.documents.reports import write_reports
from dictate.errors import DictateError
from dictate.formulary.file import checked_formulary
from dictate.formulary.formulary import EMPTY_FORMULARY
from dictate.grammar import jsgf
from dictate.grammar.pronunciation import OWN_WAYS, OWN_WORDS, with_own_words
from dictate.grammar.sample import sentence
from dictate.grammar.spoken import CHARTING, grammars_folder, spoken_languages
from dictate.report.record import read_json, record_of
from dictate.session.session import Session
from dictate.settings import SETTINGS_FILE, read_settings
from dictate.settings.page import settings_lines
from dictate.speech.audio_file import AudioFile
from dictate.speech.segmentation import utterances

OPENED = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)
CASE = Case(id="brindle", species="dog", opened=OPENED, animal="Brindle")
SLOW_S = 10.0
PIECES = (
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xc3", "́".encode(), "‮".encode(), "²".encode(),
    "٣".encode(), b"-1", b"1e999", b"NaN", b"9" * 400, b"[" * 2000, b"{" * 2000, b'"', b"\\", b"\n",
    b"\r", b"null", b"true", b"[]", b"{}", b"<", b">", b"*", b"|", b"(", b"/**/", b"=", b"#", b";",
    b"\\ud800", b"\xed\xa0\x80", b"9999-12-31", b"0000-00-00", b"24:00:00", b"'''", b'"""', b".",
    b"208 ", b" no ", b" to ", b" undo", b"\x7f\xff\xff\xff", b"\xff" * 8, b"\x00" * 8, b"\x1b[2J",
)  # fmt: skip


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


class UntrueChartError(Exception):
    """The chart changed though nothing was charted."""


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


def record(data: bytes, folder: Path) -> None:
    """Read an exported record. What is taken must be what its events make."""
    found = read_json(_file(folder, "record.json", data))
    if record_of(found.case, found.events).chart != found.chart:
        raise UntrueChartError


def audio(data: bytes, folder: Path) -> None:
    """Read a recording, and cut it into utterances."""
    for _ in utterances(AudioFile(_file(folder, "recording.wav", data))):
        pass


def settings(data: bytes, folder: Path) -> None:
    """Read the settings."""
    _file(folder, SETTINGS_FILE, data)
    read_settings(folder)


def words(data: bytes, folder: Path) -> None:
    """Read own words and pronunciations, which a line of “--” parts."""
    own, _, ways = data.partition(b"--\n")
    _file(folder, OWN_WORDS, own)
    _file(folder, OWN_WAYS, ways)
    language = spoken_languages()[CHARTING]
    with_own_words(language.pronunciations, language.words, folder)


Try = Callable[[bytes, Path], None]
KINDS: dict[str, Try] = {
    each.__name__: each
    for each in (phrase, grammar, case, formulary, record, audio, settings, words)
}


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
            return (_record(),)
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


def _record() -> bytes:
    session = Session(CASE, spoken_languages(), now=lambda: OPENED)
    for said in ("208 pocket 5 mesial", "209 calculus 2", "note: wait", "undo", "304 missing"):
        session.type_text(said)
    with tempfile.TemporaryDirectory() as folder:
        written = write_reports(record_of(CASE, session.events), Path(folder))
        return next(path for path in written if path.suffix == ".json").read_bytes()


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


def damaged(good: bytes, others: tuple[bytes, ...], chance: random.Random) -> bytes:
    """Return a good input with some damage."""
    data = bytearray(good)
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        at = chance.randrange(min(len(data), chance.choice((64, 1 << 30))) + 1)
        to = min(len(data), at + chance.choice((1, 4, 30, 300)))
        match chance.randrange(7):
            case 0 if at < len(data):
                data[at] ^= 1 << chance.randrange(8)
            case 1:
                data[at:to] = b""
            case 2:
                data[at:at] = data[at:to] * chance.choice((1, 2, 40))
            case 3:
                data[at : at + chance.choice((0, 4))] = chance.choice(PIECES)
            case 4:
                other = chance.choice(others)
                begin = chance.randrange(len(other) + 1)
                data[at:to] = other[begin : begin + to - at + 8]
            case 5:
                del data[at:]
            case _:
                data[at:to] = chance.randbytes(to - at)
    return bytes(data[:400_000])


def attempt(kind: str, data: bytes, folder: Path, figures: Figures) -> None:
    """Try an input, and count what came of it."""
    began = time.monotonic()
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
    took_s = time.monotonic() - began
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
            attempt(kind, damaged(chance.choice(good), good, chance), Path(folder), figures)
    return figures


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

        for module in [each for each in sys.modules if each.startswith("dictate.")]:
            for value in list(vars(sys.modules[module]).values()):
                if getattr(value, "__module__", None) == module and callable(value):
                    _instrumented(atheris, value)
        flags = [f"-max_total_time={seconds}", "-timeout=20", "-max_len=20000"]
        flags += ["-print_final_stats=1"]
        atheris.Setup([sys.argv[0], *flags, str(corpus)], one)
        atheris.Fuzz()


def _instrumented(atheris: object, value: object) -> None:
    code = getattr(value, "__code__", None)
    if code is not None:
        atheris.instrument_func(value)  # type: ignore[attr-defined]


def main() -> None:
    """Print the figures; exit code 1 where there was a fault."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=list(KINDS))
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true")
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
        figures = run(kind, given.seed, given.seconds)
        faults += len(figures.faults)
        print(f"{kind}: {figures}", flush=True)
        print(*dict.fromkeys(each[:400] for each in figures.faults[:8]), sep="\n")
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
