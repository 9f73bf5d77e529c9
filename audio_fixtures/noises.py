"""Noises of a treatment room, synthesised."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from audio_fixtures.sound import FLOOR_DBFS, Sound, at_level
from audio_fixtures.voices import SAMPLE_RATE

_Gain = Callable[[Sound], npt.NDArray[Any]]
"""From frequencies in Hz to gains."""

_WHISTLES = {5310.0: 1.0, 6120.0: 0.5, 7240.0: 0.3}
"""By pitch in Hz: loudness."""


def room_floor(seconds: float, random: np.random.Generator) -> Sound:
    """Return the soft white floor that lies under every clip."""
    return at_level(random.standard_normal(round(seconds * SAMPLE_RATE)), FLOOR_DBFS)


def pink_noise(seconds: float, random: np.random.Generator) -> Sound:
    """Return noise of equal power in every octave above 20 Hz, at -35 dBFS."""
    return at_level(_shaped(seconds, random, lambda hz: 1 / np.sqrt(np.maximum(hz, 20))), -35)


def scaler(seconds: float, random: np.random.Generator) -> Sound:
    """Return an ultrasonic scaler with suction, at -30 dBFS.

    The scaler is three wandering whistles (what is audible of a tip that vibrates far above
    hearing) in a hiss of water above 3 kHz, louder while the tip lies on the tooth. The suction
    is a rush of air between 250 and 2500 Hz that gurgles a few times a second, on a motor's hum
    of 118 Hz.
    """
    contact = _wander(seconds, random, 0.7) > 0
    touch = np.convolve(contact, np.ones(800) / 800, mode="same") * 0.8 + 0.2
    whistle = sum(
        (_whistle(seconds, hz, random) * gain for hz, gain in _WHISTLES.items()),
        start=np.zeros(round(seconds * SAMPLE_RATE)),
    )
    water = _shaped(seconds, random, lambda hz: hz > 3000)
    rush = _shaped(seconds, random, lambda hz: np.exp(-(np.log(np.maximum(hz, 1) / 800) ** 2)))
    gurgle = 1 + 0.35 * _wander(seconds, random, 6.0)
    hum = np.sin(2 * np.pi * 118 * _time(seconds))
    mixed = touch * (0.5 * whistle + 0.25 * water) + 0.6 * rush * gurgle + 0.15 * hum
    return at_level(mixed, -30)


def _time(seconds: float) -> Sound:
    return np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE


def _shaped(seconds: float, random: np.random.Generator, gain: _Gain) -> Sound:
    """Return noise of RMS 1 whose spectrum has the given gain by frequency in Hz."""
    count = round(seconds * SAMPLE_RATE)
    spectrum = np.fft.rfft(random.standard_normal(count))
    hz = np.arange(len(spectrum)) * SAMPLE_RATE / count
    noise: Sound = np.fft.irfft(spectrum * gain(hz), count)
    return at_level(noise, 0)


def _wander(seconds: float, random: np.random.Generator, hz: float) -> Sound:
    """Return a slow random curve of RMS 1 with nothing faster than `hz`."""
    return _shaped(seconds, random, lambda each: (each > 0) & (each < hz))


def _whistle(seconds: float, hz: float, random: np.random.Generator) -> Sound:
    pitch = hz + 40 * _wander(seconds, random, 2.0)
    tone: Sound = np.sin(2 * np.pi * np.cumsum(pitch) / SAMPLE_RATE)
    return tone
