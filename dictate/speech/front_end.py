"""From samples to the features that the embedded model takes, with steady noise taken out.

The features are those the model was trained on: 13 mel-frequency cepstra of frames of 25.6 ms,
every 10 ms, from 25 mel bands between 130 and 6800 Hz (the model's own `feat.params`). Between the
bands and the cepstra stands the suppression of noise: what the room sounds like is taken from the
edges of the utterance, where nobody speaks, and every band is turned down where it holds little
more than that. See docs/measurements.md for what it buys.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.transform import CEPSTRA, STREAMS, Transform

HOP_SAMPLES = 160
"""Samples from one frame to the next: 10 ms."""

Bands: TypeAlias = npt.NDArray[np.float64]
"""Power by mel band, shape (frames, 25); (frames, 19) of narrow-band sound."""

_WINDOW_SAMPLES = 410
_TRANSFORM = 512
_BANDS = 25
_LOWEST_HZ, _HIGHEST_HZ = 130.0, 6800.0
_LIFTER = 22
_PRE_EMPHASIS = 0.97
_LEAST_POWER = 1e-3
_ABOVE_4_KHZ = 20
"""The first band whose middle lies above 4 kHz."""
_IN_A_NARROW_BAND = 19
"""So many bands lie below 3.8 kHz, which is all that sound of 8000 samples a second holds."""
_LEAKAGE = 10**-4.0
"""What lies 40 dB under the strongest sounds may be left by sampling and rounding. No voice of the
tuning part is so soft over 4 kHz: the softest lies 25 dB under its strongest sounds."""
_LEAST_HIGH_LEVEL = 10**0.4
"""Less than 4 dB above the noise there is no speech in the bands over 4 kHz."""
_NOISY_LEVEL = 10**2.0
"""Speech is in noise where it stands less than 20 dB above it."""
_STEADY_LEVEL = 10**0.3
"""What stands less than 3 dB above the noise of the edges is that noise."""
_CLEAR_LEVEL = 10**2.5
_CLEAR_HIGH_LEVEL = 10**0.6
"""Speech is clear 25 dB above the noise, and 6 dB above it in the bands over 4 kHz."""


@dataclass(frozen=True)
class Suppression:
    """How noise is told from speech and turned down; the values are those that did best on the
    tuning part of tests/benchmarks/recognition.py, and were not sensitive."""

    before: int = 25
    """Frames at the beginning that hold the room alone (the pre-roll of the segmentation)."""
    after: int = 20
    """The same at the end."""
    quantile: float = 0.8
    """The noise of a band is this quantile of those frames: a scaler comes and goes."""
    inertia: float = 0.9
    """How much the frame before counts in the estimate of the signal-to-noise ratio. Source:
    Ephraim, Y. and Malah, D. (1984), IEEE Trans. ASSP 32(6), the decision-directed estimate."""
    least_gain: float = 0.01
    """No band is turned down further."""
    floor_db: float = 30.0
    """An even floor so far (dB) under the loud frames is laid under everything: what is left of the
    noise disappears in it, and silence sounds like silence."""


@cache
def _filters() -> npt.NDArray[np.float64]:
    """Return the triangular mel filters of equal area, shape (25, 257), edges on bins."""

    def mel(hz: float) -> float:
        return 2595.0 * float(np.log10(1.0 + hz / 700.0))

    bin_hz = SAMPLE_RATE / _TRANSFORM
    mels = np.linspace(mel(_LOWEST_HZ), mel(_HIGHEST_HZ), _BANDS + 2)
    edges = np.round(700.0 * (10.0 ** (mels / 2595.0) - 1.0) / bin_hz) * bin_hz
    hz = np.arange(_TRANSFORM // 2 + 1) * bin_hz
    low, middle, high = (edges[place : place + _BANDS, None] for place in range(3))
    rising, falling = (hz - low) / (middle - low), (high - hz) / (high - middle)
    return np.maximum(np.minimum(rising, falling), 0.0) * 2.0 / (high - low)


@cache
def _cosines() -> npt.NDArray[np.float64]:
    """Return the liftered cosine transform, shape (13, 25)."""
    order, band = np.arange(CEPSTRA)[:, None], np.arange(_BANDS)[None]
    cosines = np.cos(np.pi * order * (band + 0.5) / _BANDS) * np.sqrt(2.0 / _BANDS)
    cosines[0] = np.sqrt(1.0 / _BANDS)
    lifter = 1.0 + _LIFTER / 2.0 * np.sin(np.arange(CEPSTRA) * np.pi / _LIFTER)
    return np.asarray(cosines * lifter[:, None], dtype=np.float64)


@cache
def _window() -> npt.NDArray[np.float64]:
    return np.hamming(_WINDOW_SAMPLES)


def mel_bands(samples: Samples) -> Bands:
    """Return the power in every band of samples, shape (n,); no frame of less than 410 samples."""
    frames = (len(samples) - _WINDOW_SAMPLES) // HOP_SAMPLES + 1
    if frames < 1:
        return np.zeros((0, _BANDS))
    sound = samples.astype(np.float64)
    sound[1:] -= _PRE_EMPHASIS * sound[:-1]
    windows = np.lib.stride_tricks.sliding_window_view(sound, _WINDOW_SAMPLES)[::HOP_SAMPLES]
    spectrum = np.fft.rfft(windows * _window(), _TRANSFORM, axis=1)
    return np.asarray((spectrum.real**2 + spectrum.imag**2) @ _filters().T, dtype=np.float64)


def without_noise(bands: Bands, settings: Suppression | None = None) -> Bands:
    """Return the bands with the steady noise of the utterance's edges turned down, the same shape.

    A Wiener filter in every band. In a quiet room hardly anything changes but the even floor.
    """
    if not len(bands):
        return bands
    chosen = settings or Suppression()
    ratios = bands / _noise(bands, chosen)
    quieter = np.empty_like(bands)
    before = np.maximum(ratios[0] - 1.0, 0.0)
    for place, ratio in enumerate(ratios):
        speech = chosen.inertia * before + (1 - chosen.inertia) * np.maximum(ratio - 1.0, 0.0)
        gain = speech / (1.0 + speech)
        beside = np.concatenate([gain[:1], gain, gain[-1:]])
        gain = np.maximum((beside[:-2] + 2 * gain + beside[2:]) / 4, chosen.least_gain)
        quieter[place] = bands[place] * gain
        before = gain * gain * ratio
    loud = float(np.percentile(quieter.mean(axis=1), 90))
    return np.asarray(quieter + loud * 10 ** (-chosen.floor_db / 10), dtype=np.float64)


def is_clear(bands: Bands, settings: Suppression | None = None) -> bool:
    """Return whether speech stands far out of the noise of the utterance's edges, above 4 kHz too:
    not in noise, and not through a narrow-band microphone. `bands` are those before suppression."""
    if not len(bands):
        return False
    noise = _noise(bands, settings or Suppression())
    return _level(bands, noise) > _CLEAR_LEVEL and _high_level(bands, noise) > _CLEAR_HIGH_LEVEL


def is_noisy(bands: Bands, settings: Suppression | None = None) -> bool:
    """Return whether speech stands little out of the noise of the utterance's edges. `bands` are
    those before suppression."""
    if not len(bands):
        return False
    return _level(bands, _noise(bands, settings or Suppression())) < _NOISY_LEVEL


def is_steady(bands: Bands, settings: Suppression | None = None) -> bool:
    """Return whether nothing stands out of the noise of the edges: silence, or one noise all along.
    `bands` are those before suppression."""
    if not len(bands):
        return True
    return _level(bands, _noise(bands, settings or Suppression())) < _STEADY_LEVEL


def is_narrow(bands: Bands, settings: Suppression | None = None) -> bool:
    """Return whether no speech stands out of the noise above 4 kHz, be it that the microphone or
    its connection lets none through, or that noise buries it. `bands` are those before
    suppression, shape (frames, 25)."""
    if not len(bands):
        return False
    return _high_level(bands, _noise(bands, settings or Suppression())) < _LEAST_HIGH_LEVEL


def narrowed(bands: Bands) -> Bands:
    """Return the bands that hold speech in narrow-band sound, shape (frames, 19)."""
    return bands[:, :_IN_A_NARROW_BAND]


@cache
def narrow_band_model() -> Transform:
    """Return what makes means of features of 25 bands those of features of 19, the bands above
    being steady: they are taken back to the bands, smooth over frequency, and forward again without
    the upper ones."""
    lower = np.arange(_BANDS) < _IN_A_NARROW_BAND
    rotation = (_cosines() * lower) @ np.linalg.pinv(_cosines())
    return Transform(np.stack([rotation] * STREAMS), np.zeros((STREAMS, CEPSTRA)))


def _level(bands: Bands, noise: Bands) -> float:
    """Return how far speech stands out of the noise, in power."""
    return float(np.percentile(bands.sum(axis=1), 90)) / max(float(noise.sum()), _LEAST_POWER)


def _high_level(bands: Bands, noise: Bands) -> float:
    """Return how far the strongest sounds above 4 kHz stand out of the noise there, in power."""
    whole, high = (
        float(np.percentile(each.sum(axis=1), 95)) for each in (bands, bands[:, _ABOVE_4_KHZ:])
    )
    floor = max(float(noise[_ABOVE_4_KHZ:].sum()), _LEAKAGE * whole, _LEAST_POWER)
    return high / floor


def _noise(bands: Bands, settings: Suppression) -> Bands:
    """Return the noise of every band, shape (25,)."""
    edges = np.concatenate([bands[: settings.before], bands[-settings.after :]])
    loud = np.log(edges + _LEAST_POWER)
    return np.asarray(np.exp(np.quantile(loud, settings.quantile, axis=0)), dtype=np.float64)


def is_loud(bands: Bands) -> npt.NDArray[np.bool_]:
    """Return which frames, shape (frames,), are within 20 dB of the loud ones: in the others there
    may be a room and no more, whatever phones are heard in it."""
    level = bands.mean(axis=1)
    return np.asarray(level > 0.01 * np.percentile(level, 90), dtype=np.bool_)


def cepstra(bands: Bands) -> npt.NDArray[np.float32]:
    """Return the features, shape (frames, 13), of bands; what narrow-band sound lacks is steady."""
    cosines = _cosines()[:, : bands.shape[1]]
    return np.asarray(np.log(np.maximum(bands, _LEAST_POWER)) @ cosines.T, dtype=np.float32)


def stretched(bands: Bands, factor: float) -> Bands:
    """Return the bands as of a voice whose vocal tract is shorter by a factor (longer, below 1):
    the same shape, in steps of bands. Source: Lee, L. and Rose, R. (1998), A frequency warping
    approach to speaker normalization, IEEE Trans. Speech Audio Process. 6(1)."""
    count = bands.shape[1]
    wanted = np.minimum(np.arange(count) * factor, count - 1)
    below = np.minimum(wanted.astype(np.int64), count - 2)
    share = wanted - below
    loud = np.log(np.maximum(bands, _LEAST_POWER))
    return np.asarray(
        np.exp(loud[:, below] * (1 - share) + loud[:, below + 1] * share), dtype=np.float64
    )


def features(samples: Samples) -> npt.NDArray[np.float32]:
    """Return the features, shape (frames, 13), of an utterance with some of the room before it and
    after it, shape (n,)."""
    return cepstra(without_noise(mel_bands(samples)))
