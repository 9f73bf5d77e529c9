"""Words as sound, by espeak-ng where it is installed."""

from __future__ import annotations

import shutil
import struct
import subprocess

import numpy as np
import soxr

from dictate.errors import DictateError
from dictate.settings import SoundSettings
from dictate.sounds.tones import SOUND_RATE, Sound

_PROGRAM = "espeak-ng"
_PATIENCE_S = 10.0
_HEADER_BYTES = 44
_LOUDEST = 0.9


def speech(words: str, settings: SoundSettings) -> Sound:
    """Return words as they are spoken, at the rate (words a minute), by the voice and at the volume
    of the settings.

    Raises DictateError where espeak-ng is missing, lacks the voice or fails.
    """
    if shutil.which(_PROGRAM) is None:
        raise DictateError(
            "Nothing can be read back without espeak-ng: install it (on Debian or Ubuntu: sudo apt "
            "install espeak-ng), or set sounds.read_back to off."
        )
    command = [_PROGRAM, "-v", settings.voice, "-s", str(settings.rate), "--stdin", "--stdout"]
    try:
        made = subprocess.run(
            command, input=words.encode(), capture_output=True, check=True, timeout=_PATIENCE_S
        )
        rate, samples = _read(made.stdout)
    except (OSError, subprocess.SubprocessError, ValueError, struct.error) as error:
        raise DictateError(
            f"espeak-ng cannot read back with the voice {settings.voice}: “espeak-ng --voices” "
            "lists those that it has; set sounds.voice to one."
        ) from error
    if rate != SOUND_RATE:
        samples = soxr.resample(samples, rate, SOUND_RATE)
    loudest = float(np.abs(samples).max(initial=0.0))
    scale = settings.volume * _LOUDEST / loudest if loudest else 0.0
    return (scale * samples).astype(np.float32)


def _read(wave: bytes) -> tuple[int, Sound]:
    """Return rate and samples of what espeak-ng writes: its header names no true length, for it
    does not know it yet, so no reader of files takes it."""
    if wave[:4] != b"RIFF" or wave[36:40] != b"data" or len(wave) <= _HEADER_BYTES:
        raise ValueError("no sound")
    (rate,) = struct.unpack_from("<I", wave, 24)
    data = wave[_HEADER_BYTES : len(wave) - len(wave) % 2]
    samples: Sound = (np.frombuffer(data, "<i2") / 32768).astype(np.float32)
    return rate, samples
