"""Who says the sentences: synthetic voices of this machine, each at speeds of its own, and people
whose digits were recorded.

Each voice and each person belongs to one part, tuning or testing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
import soxr

from audio_fixtures.sound import Sound, silence
from audio_fixtures.voices import SAMPLE_RATE, say, voices_here
from dictate.speech.audio import Samples
from dictate.speech.audio_file import AudioFile
from tests.benchmarks.recognition_data.sentences import Part, Sentence, blank, sentences
from tests.fixture_replay import SHARED

VOICES: dict[Part, tuple[str, ...]] = {
    "tuning": ("flite_rms", "flite_kal16", "festival_slt_hts", "espeak_en_us"),
    "testing": ("flite_slt", "flite_awb", "festival_kal_diphone", "espeak_en_gb"),
}
NATURAL = ("flite_rms", "flite_slt", "flite_awb", "festival_slt_hts")
"""The voices that are made of recorded speech with more than one copy of each sound."""

PEOPLE: dict[Part, tuple[str, ...]] = {"tuning": ("a",), "testing": ("b", "c")}
HUMAN_DIGITS = SHARED / "human_digits"

SPEEDS = (0.93, 1.0, 1.07)
"""Speed perturbation, which changes pitch and tempo alike. Source: Ko, T. et al. (2015), Audio
augmentation for speech recognition, Interspeech."""

_WORDS = "zero one two three four five six seven eight nine".split()
_GAP_S = (0.02, 0.12)


@dataclass(frozen=True, eq=False)
class Spoken:
    """A sentence as somebody said it: int16 samples, shape (n,), 16 kHz, no room yet."""

    speaker: str
    sentence: Sentence
    samples: Samples
    name: str


def voices_of(part: Part) -> list[str]:
    """Return the voices of a part that this machine has."""
    here = voices_here()
    return [voice for voice in VOICES[part] if voice in here]


def synthetic(part: Part, count: int) -> Iterator[Spoken]:
    """Yield `count` sentences for each voice of a part, each voice its own."""
    voices = voices_of(part)
    every = sentences(part, count * len(VOICES[part]))
    for number, sentence in enumerate(every):
        voice = VOICES[part][number % len(VOICES[part])]
        if voice in voices:
            speed = Random(f"{voice} {sentence.text}").choice(SPEEDS)
            samples = said_at(speed, say(voice, sentence.text))
            yield Spoken(voice, sentence, samples, f"{voice} {sentence.text}")


def said_at(speed: float, samples: Samples) -> Samples:
    """Return speech made faster and higher by a factor."""
    if speed == 1.0:
        return samples
    changed: Samples = soxr.resample(samples, SAMPLE_RATE * speed, SAMPLE_RATE)
    return changed


def people_here(part: Part) -> list[str]:
    """Return the people of a part whose digits are here."""
    return [each for each in PEOPLE[part] if (HUMAN_DIGITS / f"0_{each}_0.wav").exists()]


def human_tooth_numbers(part: Part, count: int, takes: range = range(20)) -> Iterator[Spoken]:
    """Yield `count` tooth numbers of a dog for each person of a part, of three digits each."""
    teeth = blank("dog").chart.anatomy.permanent_teeth
    for person in people_here(part):
        random = Random(f"numbers {person}")
        for _ in range(count):
            tooth = random.choice(teeth)
            text = " ".join(_WORDS[int(digit)] for digit in str(tooth))
            yield _joined(person, text, str(tooth), random, takes)


def _joined(person: str, text: str, digits: str, random: Random, takes: range) -> Spoken:
    parts: list[Sound] = []
    for digit in digits:
        path = HUMAN_DIGITS / f"{digit}_{person}_{random.choice(takes)}.wav"
        parts += [silence(random.uniform(*_GAP_S)), _read(path)]
    samples = np.clip(np.concatenate(parts) * 32768, -32767, 32767).astype(np.int16)
    return Spoken(f"human {person}", Sentence(text, "dog", ()), samples, f"{person} {text}")


def _read(path: Path) -> Sound:
    blocks = np.concatenate(list(AudioFile(path).blocks())).astype(np.float64) / 32768
    return blocks / (np.abs(blocks).max() + 1e-9) * 0.5
