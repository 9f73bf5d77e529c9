"""How loud sound is, and which frames of it stand out as speech from steady noise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from pocketsphinx import Vad

from dictate.speech.audio import SAMPLE_RATE, Samples

FRAME_S = 0.03
"""Length (s) of the frames that are judged: the longest the voice detector takes."""

FRAME_SAMPLES = 480
"""The same in samples."""

SILENCE_DBFS = -96.0
"""The level (dBFS) given to digital silence: about the last bit of a 16-bit sample."""

BAND_EDGES_HZ = (200, 400, 600, 850, 1150, 1500, 2000, 2800, 4000)
"""Edges (Hz) of the bands speech is looked for in; they widen as those of the ear do."""

Levels: TypeAlias = npt.NDArray[np.float64]
"""Levels in dBFS, or differences of levels in dB."""

_FULL_SCALE = 32768.0
_CLIPPED = 32700
_MOST_PER_BAND_DB = 12.0
_LEAKAGE_DB = 30.0
_FRAMES_AT_ONCE = 64


def level_dbfs(samples: Samples) -> float:
    """Return the RMS level of `samples`, shape (n,), in dBFS, from -96 up to 0.

    A full-scale square wave has 0 dBFS, a full-scale sine -3. No samples at all have -96.
    """
    if samples.size == 0:
        return SILENCE_DBFS
    scaled = samples.astype(np.float64) / _FULL_SCALE
    power = float(np.dot(scaled, scaled)) / samples.size
    return max(SILENCE_DBFS, 10.0 * float(np.log10(max(power, 1e-12))))


def is_clipping(samples: Samples) -> bool:
    """Tell whether the input was too loud: two neighbouring samples at the end of the scale."""
    return clipped_share(samples) > 0.0


def clipped_share(samples: Samples) -> float:
    """Return the share, 0 to 1, of neighbouring samples of which both are at the end of the
    scale."""
    if samples.size < 2:
        return 0.0
    at_the_end = (samples >= _CLIPPED) | (samples <= -_CLIPPED)
    return float(np.mean(at_the_end[1:] & at_the_end[:-1]))


class BandMeter:
    """Measures frames of equal length in the bands of speech."""

    def __init__(self, frame_samples: int) -> None:
        """Set up for frames of `frame_samples` samples, 400 (25 ms) or more."""
        window = np.hanning(frame_samples + 2)[1:-1]
        bins = np.round(np.array(BAND_EDGES_HZ) * frame_samples / SAMPLE_RATE).astype(np.int64)
        self._window = window / _FULL_SCALE
        self._starts, self._end = bins[:-1], int(bins[-1])
        self._scale = 2.0 / (frame_samples * float(np.sum(window**2)))

    def levels(self, frames: Samples) -> Levels:
        """Return the levels (dBFS), shape (frames, bands), of frames, shape (frames, samples)."""
        spectrum = np.fft.rfft(frames * self._window, axis=1)[:, : self._end]
        power = spectrum.real**2 + spectrum.imag**2
        bands = np.add.reduceat(power, self._starts, axis=1) * self._scale
        return np.asarray(10.0 * np.log10(bands + 1e-12), dtype=np.float64)


def total_dbfs(levels: Levels) -> Levels:
    """Return the level of all bands together, shape (frames,), from (frames, bands)."""
    return np.asarray(10.0 * np.log10(np.sum(10.0 ** (levels / 10.0), axis=1)), dtype=np.float64)


def excess_db(levels: Levels, floor: Levels) -> Levels:
    """Return how far frames stand out of the noise: dB, shape (frames,), from 0 to 12.

    `levels` has shape (frames, bands); `floor` the same, or (bands,) for one floor to all. It is
    the mean over the bands, none counting for more than 12 dB, and none at all that is 30 dB
    under the loudest, so that a pure tone (a scaler's whistle, a monitor's beep), which fills a
    band or two and leaks into the rest, does not pass for speech however loud it is.
    """
    above = np.clip(levels - floor, 0.0, _MOST_PER_BAND_DB)
    leakage = levels < levels.max(axis=1, keepdims=True) - _LEAKAGE_DB
    return np.asarray(np.where(leakage, 0.0, above).mean(axis=1), dtype=np.float64)


def contrast_db(levels: Levels, quiet: Levels) -> float:
    """Return how far sound rises at its strongest over what is `quiet` of it, in dB.

    `levels` has shape (frames, bands), three frames or more; `quiet` has shape (bands,). It is
    the most that three bands rise on average over three frames, each by 20 dB at most. Steady
    noise rises over its own lowest levels by some 5 dB, the weakest word 10 dB out of noise by 7.
    """
    above = np.clip(levels - quiet, -20.0, 20.0)
    smooth = (above[:-2] + above[1:-1] + above[2:]) / 3.0
    return float(np.sort(smooth, axis=1)[:, -3:].mean(axis=1).max())


class NoiseFloor:
    """The steady noise in each band: a low percentile of the levels of the last few seconds.

    While the stream is younger than that, the rest counts as a silent room: speech in its first
    moment stands out at once, and steady noise stops standing out when it fills the window.
    """

    def __init__(self, window_frames: int, percentile: float, quiet_dbfs: float) -> None:
        """Look back over `window_frames`; a silent room has `quiet_dbfs` in each band."""
        self._quiet_dbfs = quiet_dbfs
        self._rank = int(window_frames * percentile / 100.0)
        bands = len(BAND_EDGES_HZ) - 1
        self._history: Levels = np.full((window_frames - 1, bands), quiet_dbfs)

    def follow(self, levels: Levels) -> Levels:
        """Take the levels of the next frames, shape (frames, bands); return the floor at each."""
        kept = len(self._history)
        joined = np.concatenate([self._history, levels])
        self._history = joined[len(joined) - kept :].copy()
        windows = np.lib.stride_tricks.sliding_window_view(joined, kept + 1, axis=0)
        ranked = np.partition(windows, self._rank, axis=-1)[..., self._rank]
        return np.asarray(np.maximum(ranked, self._quiet_dbfs), dtype=np.float64)


@dataclass(frozen=True)
class ListeningSettings:
    """What counts as noise; the defaults are measured ones."""

    floor_window_s: float = 1.8
    """Noise that has been steady for this long stops standing out."""
    floor_percentile: float = 20.0
    """Of the levels within that window, the one taken for the floor."""
    quiet_dbfs: float = -90.0
    """The level of each band in a silent room; the floor is never put lower."""
    loudest_noise_dbfs: float = -45.0
    """Louder noise is turned down to this for the voice detector, else it finds voices in it."""
    detector_mode: int = 2
    """Strictness of the voice detector, from 0 to 3."""
    clear_db: float = 9.0
    """Sound that stands out this far is let pass unheard: the detector is deaf to soft voices."""


@dataclass
class Frame:
    """FRAME_S of sound (the last of a stream may be shorter), judged.

    `levels` are those of the bands (dBFS), `level_dbfs` and `noise_dbfs` the level and the noise
    floor of all bands together; `voiced` says that it may be a voice.
    """

    samples: Samples
    levels: Levels
    level_dbfs: float
    noise_dbfs: float
    excess_db: float
    voiced: bool

    def is_speech(self, threshold_db: float) -> bool:
        """Tell whether it may be a voice and stands out of the noise by `threshold_db`."""
        return self.voiced and self.excess_db >= threshold_db


class Listener:
    """Judges frames by two witnesses, remembering nothing but the noise.

    They are the WebRTC voice detector that comes with PocketSphinx, and the excess over the
    noise floor. Each alone is fooled by noises that the other is not: beeps and hum the
    detector, a suction tip that swells and falls the excess.
    """

    def __init__(self, settings: ListeningSettings) -> None:
        """Begin in what is taken for a silent room."""
        window = round(settings.floor_window_s / FRAME_S)
        self._loudest_noise_dbfs = settings.loudest_noise_dbfs
        self._clear_db = settings.clear_db
        self._detector = Vad(settings.detector_mode, SAMPLE_RATE, FRAME_S)
        self._meter = BandMeter(FRAME_SAMPLES)
        self._floor = NoiseFloor(window, settings.floor_percentile, settings.quiet_dbfs)

    def judge(self, frames: Samples) -> Iterator[Frame]:
        """Yield the next frames of the stream, given in shape (frames, FRAME_SAMPLES), judged."""
        for start in range(0, len(frames), _FRAMES_AT_ONCE):
            yield from self._judge(frames[start : start + _FRAMES_AT_ONCE])

    def _judge(self, frames: Samples) -> Iterator[Frame]:
        levels = self._meter.levels(frames)
        floor = self._floor.follow(levels)
        noise = total_dbfs(floor)
        gain = 10.0 ** (np.minimum(0.0, self._loudest_noise_dbfs - noise) / 20.0)
        turned_down = (frames * gain[:, np.newaxis]).astype(np.int16)
        excess = excess_db(levels, floor).tolist()
        totals = total_dbfs(levels).tolist()
        voiced = [
            self._detector.is_speech(frame.tobytes()) or above_db >= self._clear_db
            for frame, above_db in zip(turned_down, excess, strict=True)
        ]
        return map(Frame, frames, levels, totals, noise.tolist(), excess, voiced)
