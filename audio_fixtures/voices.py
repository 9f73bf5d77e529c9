"""Synthetic voices: flite, festival and espeak-ng, each asked through its own program.

All of them speak the same way every time, so what is made from them can be made again.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

SAMPLE_RATE = 16_000

VOICES = {
    "flite_slt": ("flite", "slt"),
    "flite_rms": ("flite", "rms"),
    "flite_awb": ("flite", "awb"),
    "flite_kal16": ("flite", "kal16"),
    "festival_kal_diphone": ("festival", "kal_diphone"),
    "festival_slt_hts": ("festival", "cmu_us_slt_arctic_hts"),
    "espeak_en_us": ("espeak-ng", "en-us"),
    "espeak_en_gb": ("espeak-ng", "en-gb"),
}
"""By our name: the program that has the voice, and the program's name for it."""

_PROGRAM_FILES = {"flite": "flite", "festival": "text2wave", "espeak-ng": "espeak-ng"}

Samples = npt.NDArray[np.int16]


class VoiceError(Exception):
    """A voice that cannot be used here; the sentence says what to install."""


def voices_here() -> list[str]:
    """Return the names of the voices of VOICES that this machine has."""
    return [name for name, (program, own) in VOICES.items() if own in _own_names(program)]


def say(voice: str, text: str) -> Samples:
    """Return `text` spoken by `voice`: int16 samples, shape (n,), 16 kHz mono.

    Words of the trade are said as lexicon.toml has them; a comma is a short pause. Raises
    VoiceError when this machine does not have the voice.
    """
    if voice not in VOICES:
        raise VoiceError(f"There is no voice {voice}; there are {', '.join(VOICES)}.")
    program, own_name = VOICES[voice]
    if own_name not in _own_names(program):
        raise VoiceError(f"The voice {voice} is missing: install {program} and its voices.")
    with TemporaryDirectory() as folder:
        wave = Path(folder) / "said.wav"
        _SPEAK[program](own_name, text, wave)
        sound, rate = soundfile.read(wave, dtype="float64")
    if rate != SAMPLE_RATE:
        sound = soxr.resample(sound, rate, SAMPLE_RATE)
    samples: Samples = np.clip(np.round(sound * 32768), -32768, 32767).astype(np.int16)
    return samples


@cache
def _own_names(program: str) -> frozenset[str]:
    """Return the program's names of the voices it has here; none when it is not installed."""
    if shutil.which(_PROGRAM_FILES[program]) is None:
        return frozenset()
    match program:
        case "flite":
            answer = _run(["flite", "-lv"]).decode()
            return frozenset(answer.partition(":")[2].split())
        case "festival":
            answer = _run(["festival", "-b", "(print (voice.list))"]).decode()
            return frozenset(answer.strip().strip("()").split())
        case _:
            return frozenset(own for maker, own in VOICES.values() if maker == program)


def _flite(own_name: str, text: str, wave: Path) -> None:
    entries = [
        f"{word} nil : {phones.replace(' - ', ' ')}" for word, phones in _lexicon("arpabet").items()
    ]
    addenda = wave.with_name("addenda.txt")
    addenda.write_text("\n".join(entries) + "\n", encoding="utf-8")
    _run(["flite", "-add_lex", str(addenda), "-voice", own_name, "-t", text, "-o", str(wave)])


def _festival(own_name: str, text: str, wave: Path) -> None:
    entries = "".join(
        f'(lex.add.entry \'("{word}" nil ({_syllables(phones)})))'
        for word, phones in _lexicon("arpabet").items()
    )
    script = f"(begin (voice_{own_name}) {entries})"
    _run(["text2wave", "-eval", script, "-o", str(wave)], text)


def _syllables(phones: str) -> str:
    """Return "m iy1 - ow0" as festival writes it: ((m iy) 1) ((ow) 0)."""
    stresses = [re.sub(r"\D", "", syllable) for syllable in phones.split(" - ")]
    sounds = [re.sub(r"\d", "", syllable) for syllable in phones.split(" - ")]
    return " ".join(f"(({sound}) {stress})" for sound, stress in zip(sounds, stresses, strict=True))


def _espeak(own_name: str, text: str, wave: Path) -> None:
    for word, spelling in _lexicon("espeak").items():
        text = re.sub(rf"\b{word}\b", spelling, text)
    _run(["espeak-ng", "-v", own_name, "-s", "160", "-w", str(wave), text])


_SPEAK: dict[str, Callable[[str, str, Path], None]] = {
    "flite": _flite,
    "festival": _festival,
    "espeak-ng": _espeak,
}


@cache
def _lexicon(section: str) -> dict[str, str]:
    with (Path(__file__).resolve().parent / "lexicon.toml").open("rb") as file:
        words: dict[str, str] = tomllib.load(file)[section]
    return words


def _run(command: list[str], typed: str = "") -> bytes:
    return subprocess.run(command, input=typed.encode(), capture_output=True, check=True).stdout
