"""What a treatment room does to speech: noise at a stated signal-to-noise ratio, echo, two talkers,
a narrow band. All of it is synthesised, and the same every time.

The ratio is of the RMS level of speech, from its first sound to its last, to that of the noise over
the whole band up to 8 kHz.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import soxr

from audio_fixtures.noises import pink_noise, scaler
from audio_fixtures.sound import (
    FLOOR_DBFS,
    SPEECH_DBFS,
    Sound,
    at_level,
    generator,
    silence,
    speech,
)
from audio_fixtures.voices import SAMPLE_RATE
from dictate.speech.audio import Samples

BEFORE_S = 0.8
"""Sound of the room before speech and after it (s)."""

_Change = Callable[[Sound, np.random.Generator], Sound]
_NOISE_S = 60.0


def heard_in(condition: str, said: Samples, name: str) -> Samples:
    """Return speech (shape (n,), int16, 16 kHz) as it is heard in a condition of CONDITIONS, with
    the room before it and after it. `name` seeds all chance."""
    random = generator(f"{condition} {name}")
    spoken = speech(said, random)
    spoken = at_level(spoken, SPEECH_DBFS)
    spoken *= min(1.0, 0.95 / float(np.abs(spoken).max()))
    pause = silence(BEFORE_S)
    sound = CONDITIONS[condition](np.concatenate([pause, spoken, pause]), random)
    sound = sound + at_level(random.standard_normal(len(sound)), FLOOR_DBFS)
    return np.clip(np.round(sound * 32768), -32768, 32767).astype(np.int16)


def _with_noise(make: Callable[[], Sound], ratio_db: float) -> _Change:
    def change(sound: Sound, random: np.random.Generator) -> Sound:
        noise = make()
        start = int(random.integers(0, len(noise) - len(sound)))
        return sound + at_level(noise[start : start + len(sound)], SPEECH_DBFS - ratio_db)

    return change


@cache
def _pink() -> Sound:
    return pink_noise(_NOISE_S, generator("pink noise"))


@cache
def _scaler() -> Sound:
    return scaler(_NOISE_S, generator("scaler"))


def _echo(sound: Sound, random: np.random.Generator) -> Sound:
    """A small hard room: direct sound, a few early reflections, and a tail that decays by 60 dB
    in 0.35 s and carries a fifth of the direct sound's power."""
    count = int(0.35 * SAMPLE_RATE)
    tail = random.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    tail[: int(0.004 * SAMPLE_RATE)] = 0
    tail *= np.sqrt(0.2 / float((tail**2).sum()))
    tail[0] = 1.0
    return np.convolve(sound, tail)[: len(sound)]


def _narrow(sound: Sound, random: np.random.Generator) -> Sound:
    """A telephone or a wireless headset: 8 kHz samples."""
    return np.resize(
        soxr.resample(soxr.resample(sound, SAMPLE_RATE, 8000), 8000, SAMPLE_RATE), len(sound)
    )


_other_talker: list[Sound] = []


def set_other_talker(sound: Sound) -> None:
    """Give the speech of the second talker: at least a minute of it, RMS level of no matter."""
    _other_talker[:] = [sound]


def _two_talkers(sound: Sound, random: np.random.Generator) -> Sound:
    """Somebody else goes on talking, 15 dB under the examiner."""
    return _with_noise(lambda: _other_talker[0], 15.0)(sound, random)


CONDITIONS: dict[str, _Change] = {
    "clean": lambda sound, random: sound,
    "pink 20 dB": _with_noise(_pink, 20),
    "pink 15 dB": _with_noise(_pink, 15),
    "pink 10 dB": _with_noise(_pink, 10),
    "pink 5 dB": _with_noise(_pink, 5),
    "scaler 15 dB": _with_noise(_scaler, 15),
    "scaler 10 dB": _with_noise(_scaler, 10),
    "two talkers": _two_talkers,
    "small room": _echo,
    "8 kHz": _narrow,
}
"""By name: what becomes of the sound."""
