"""Short tones: each has a rhythm of its own, so that nobody has to tell one pitch from another.

All lie between 500 and 2000 Hz, where most people who are hard of hearing hear best, and none is
longer than half a second.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt

SOUND_RATE = 22_050
"""Samples per second (Hz) of every sound that the tool makes."""

Sound: TypeAlias = npt.NDArray[np.float32]
"""Mono samples from -1 to 1 at SOUND_RATE, shape (n,)."""

ToneName: TypeAlias = Literal["charted", "query", "refused", "started", "stopped"]
TONE_NAMES: tuple[ToneName, ...] = get_args(ToneName)

_ATTACK_S = 0.015
_RELEASE_S = 0.025


@dataclass(frozen=True)
class Beep:
    """One beep and the silence after it: pitch in Hz, lengths in s."""

    pitch_hz: float
    length_s: float
    pause_s: float = 0.0


@dataclass(frozen=True)
class Tone:
    """What a tone means and how it goes, both in words, and its beeps."""

    meaning: str
    rhythm: str
    beeps: tuple[Beep, ...]


TONES: Mapping[ToneName, Tone] = {
    "charted": Tone("charted, or done", "one short", (Beep(1000, 0.08),)),
    "query": Tone(
        "a question waits on the screen",
        "two short, rising",
        (Beep(800, 0.1, 0.09), Beep(1200, 0.1)),
    ),
    "refused": Tone(
        "refused: say it again, or look",
        "three short, low",
        (Beep(600, 0.08, 0.07), Beep(600, 0.08, 0.07), Beep(600, 0.08)),
    ),
    "started": Tone("listening", "short, long, rising", (Beep(900, 0.08, 0.07), Beep(1350, 0.25))),
    "stopped": Tone(
        "not listening", "long, short, falling", (Beep(900, 0.25, 0.07), Beep(600, 0.08))
    ),
}


def tone(name: ToneName, volume: float) -> Sound:
    """Return a tone; `volume` from 0 to 1 is its share of full scale."""
    parts = [part for beep in TONES[name].beeps for part in (_beep(beep), _silence(beep.pause_s))]
    return (volume * np.concatenate(parts)).astype(np.float32)


def _beep(beep: Beep) -> npt.NDArray[np.float64]:
    """Return a sine that comes and goes softly: one that starts at once clicks."""
    count = round(beep.length_s * SOUND_RATE)
    samples = np.sin(2 * np.pi * beep.pitch_hz * np.arange(count) / SOUND_RATE)
    attack, release = round(_ATTACK_S * SOUND_RATE), round(_RELEASE_S * SOUND_RATE)
    samples[:attack] *= _rise(attack)
    samples[-release:] *= _rise(release)[::-1]
    return samples


def _rise(count: int) -> npt.NDArray[np.float64]:
    curve: npt.NDArray[np.float64] = 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / count)
    return curve


def _silence(length_s: float) -> npt.NDArray[np.float64]:
    return np.zeros(round(length_s * SOUND_RATE))
