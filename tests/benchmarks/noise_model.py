"""Make dictate/speech/in_noise.mllr: what becomes of the engine's features in noise.

    python -m tests.benchmarks.noise_model [FILE]

The voices of the tuning part say sentences once in quiet and once in noise. After suppression the
features of both are compared frame by frame, and the linear map that takes those of quiet sound
nearest to those of noisy sound (least squares) becomes a transform of the model's means. It knows
no voice: what is the same in both does not count. Needs all four voices of the tuning part.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.front_end import Bands, cepstra, is_loud, mel_bands, without_noise
from dictate.speech.sphinx_decoder import IN_NOISE
from dictate.speech.transform import STREAMS, Numbers, Transform, mllr_text
from tests.benchmarks.recognition_data.conditions import BEFORE_S, heard_in
from tests.benchmarks.recognition_data.speakers import synthetic

NOISES = ("scaler 15 dB", "pink 15 dB", "scaler 10 dB", "pink 20 dB")
FIRST, LAST = 60, 160
"""The sentences learned from; bounds were chosen on those before them."""
PRE_ROLL_S = 0.3


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", nargs="?", type=Path, default=IN_NOISE)
    transform = learned()
    parser.parse_args().file.write_text(mllr_text(transform), encoding="ascii")


def learned() -> Transform:
    """Return the transform of the model's means."""
    quiet, noisy = [], []
    for place, said in enumerate(list(synthetic("tuning", LAST // 4))[FIRST:]):
        condition = NOISES[place % len(NOISES)]
        plain = _bands(heard_in("clean", said.samples, said.name))
        changed = _bands(heard_in(condition, said.samples, said.name))
        speech = is_loud(plain)
        quiet.append(_centred(plain)[speech])
        noisy.append(_centred(changed)[speech])
    before = np.concatenate(quiet)
    extended = np.hstack([before, np.ones((len(before), 1))])
    found, *_ = np.linalg.lstsq(extended, np.concatenate(noisy), rcond=None)
    offset = np.stack([found[-1], *[np.zeros(before.shape[1])] * (STREAMS - 1)])
    return Transform(np.stack([found[:-1].T] * STREAMS), offset)


def _bands(sound: Samples) -> Bands:
    """Return the bands after suppression, with as much of the room as an utterance has."""
    cut = round((BEFORE_S - PRE_ROLL_S) * SAMPLE_RATE)
    return without_noise(mel_bands(sound[cut : len(sound) - cut]))


def _centred(bands: Bands) -> Numbers:
    heard = cepstra(bands).astype(np.float64)
    return np.asarray(heard - heard.mean(axis=0))


if __name__ == "__main__":
    main()
