"""Levels, room floors and files: what is done to speech before it is stored."""

from __future__ import annotations

import zlib
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

from audio_fixtures.voices import SAMPLE_RATE, Samples

SPEECH_DBFS = -20.0
"""RMS level of speech, from its first sound to its last."""

VARIATION_DB = 2.0
"""The most by which the level of a clip differs from SPEECH_DBFS."""

FLOOR_DBFS = -64.0
"""RMS level of the room in which everything is said."""

STEP = 64
"""Samples are stored in steps of this size (10 bits of the 16). The error is 45 dB below the
speech, in the room's noise, and FLAC files become half as large."""

Sound = npt.NDArray[np.float64]
"""Samples from -1 to 1, shape (n,), at SAMPLE_RATE."""

_FRAME = 160
_HIGHEST_PEAK = 0.95


def generator(name: str) -> np.random.Generator:
    """Return a source of random numbers that is the same every time for the same name."""
    return np.random.default_rng(zlib.crc32(name.encode()))


def speech(samples: Samples, random: np.random.Generator) -> Sound:
    """Return speech without the silence around it, at about SPEECH_DBFS."""
    sound = _without_silence(samples / 32768.0)
    level = SPEECH_DBFS + random.uniform(-VARIATION_DB, VARIATION_DB)
    sound = at_level(sound, level)
    return sound * min(1.0, _HIGHEST_PEAK / float(np.abs(sound).max()))


def at_level(sound: Sound, dbfs: float) -> Sound:
    """Return the sound scaled to an RMS level."""
    return sound * (10 ** (dbfs / 20) / float(np.sqrt(np.mean(sound**2))))


def silence(seconds: float) -> Sound:
    """Return digital silence."""
    return np.zeros(round(seconds * SAMPLE_RATE))


def in_a_room(sound: Sound, random: np.random.Generator) -> Sound:
    """Return the sound with the soft noise floor of a room under all of it."""
    return sound + at_level(random.standard_normal(len(sound)), FLOOR_DBFS)


def write_flac(path: Path, sound: Sound) -> None:
    """Write a 16 kHz mono 16-bit FLAC file in steps of STEP."""
    path.parent.mkdir(parents=True, exist_ok=True)
    top = 32768 - STEP
    samples = np.clip(np.round(sound * 32768 / STEP) * STEP, -top, top).astype(np.int16)
    soundfile.write(
        path, samples, SAMPLE_RATE, format="FLAC", subtype="PCM_16", compression_level=1.0
    )


def _without_silence(sound: Sound) -> Sound:
    """Cut what lies more than 50 dB below the loudest 10 ms at both ends, but for 30 ms."""
    frames = sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME)
    power = np.mean(frames**2, axis=1)
    heard = np.flatnonzero(power > power.max() * 1e-5)
    first = max(0, int(heard[0]) - 3) * _FRAME
    return sound[first : (int(heard[-1]) + 4) * _FRAME]
