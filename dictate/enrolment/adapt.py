"""Maximum likelihood linear regression: the means of an acoustic model, moved towards a speaker.

C. J. Leggetter and P. C. Woodland, “Maximum likelihood linear regression for speaker adaptation of
continuous density hidden Markov models”, Computer Speech and Language 9 (1995), 171-185. One
transform for each stream, shared by all phones: mean' = A mean + b. It is held near to no change
where little was read, by a prior that counts as so many frames of the speaker heard exactly where
the model expects them (a maximum a posteriori estimate of the transform).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from dictate.enrolment.acoustic_model import AcousticModel, acoustic_model
from dictate.enrolment.alignment import Aligned, Aligner
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.audio import Samples
from dictate.speech.transform import (
    CEPSTRA,
    STREAMS,
    UNCHANGED,
    Numbers,
    Transform,
    mllr_text,
)

PRIOR_FRAMES = 10.0
"""The weight of the prior in frames (10 ms) of speech: next to nothing, so that the equations can
be solved. A heavier one gave less (docs/enrolment.md)."""

_ROUNDS = 3
"""Alignment and estimation by turns: what is heard better is aligned better."""


def adapt(languages: SpokenLanguages, readings: Sequence[tuple[str, Samples]]) -> Transform | None:
    """Return the transform that fits the model to what was read: texts with their samples, shape
    (n,), one speaker's. None where no reading could be aligned with its words."""
    transform = UNCHANGED
    for number in range(_ROUNDS):
        aligned = align_all(languages, readings, transform if number else None)
        heard = [each for each in aligned if each is not None]
        if not heard:
            return None
        transform = estimated(acoustic_model(), transform, heard)
    return transform


def align_all(
    languages: SpokenLanguages,
    readings: Sequence[tuple[str, Samples]],
    transform: Transform | None = None,
) -> list[Aligned | None]:
    """Return the alignment of each reading, None where it does not fit its words."""
    with TemporaryDirectory(prefix="dictate-") as folder:
        mllr = None
        if transform is not None:
            mllr = Path(folder) / "mllr"
            mllr.write_text(mllr_text(transform), encoding="ascii")
        aligner = Aligner(languages, mllr)
    return [aligner.align(text, samples) for text, samples in readings]


def estimated(model: AcousticModel, before: Transform, readings: Sequence[Aligned]) -> Transform:
    """Return the transform of the model's own means that fits the readings best, where `before`
    says how likely each Gaussian is to have made each frame."""
    occupied, observed = _statistics(model, before, readings)
    rotation, offset = np.empty_like(UNCHANGED.rotation), np.empty_like(UNCHANGED.offset)
    speech = model.speech
    for stream in range(STREAMS):
        means = model.means[speech, stream].reshape(-1, CEPSTRA)
        variances = model.variances[speech, stream].reshape(-1, CEPSTRA)
        prior = PRIOR_FRAMES / len(means)
        frames = occupied[speech, stream].reshape(-1) + prior
        sums = observed[speech, stream].reshape(-1, CEPSTRA) + prior * means
        extended = np.hstack([np.ones((len(means), 1)), means])
        for row in range(CEPSTRA):
            # Equation for one row of W = (b A): of all Gaussians that made a frame, the squared
            # distances of their moved means from it, each by its own variance, are least.
            weights = frames / variances[:, row]
            left = (extended * weights[:, np.newaxis]).T @ extended
            right = extended.T @ (sums[:, row] / variances[:, row])
            offset[stream, row], *rotation[stream, row] = np.linalg.solve(left, right)
    return Transform(rotation, offset)


def log_likelihood(model: AcousticModel, transform: Transform, reading: Aligned) -> float:
    """Return the log likelihood per frame of speech of a reading; -inf without speech."""
    spoken = model.speech[reading.codebooks]
    if not spoken.any():
        return -np.inf
    means = transform.of(model.means)
    scores = np.sum([_shares(model, means, reading, each)[1] for each in range(STREAMS)], axis=0)
    return float(scores[spoken].mean())


def _shares(
    model: AcousticModel, means: Numbers, reading: Aligned, stream: int
) -> tuple[Numbers, Numbers]:
    """Return the shares of the Gaussians in each frame, shape (frames, densities), and the log
    likelihood of each frame by all together, shape (frames,)."""
    frames = reading.features[:, stream]
    scores = model.log_weights[stream][:, reading.senones].T.copy()
    for codebook in np.unique(reading.codebooks):
        own = reading.codebooks == codebook
        mean, variance = means[codebook, stream], model.variances[codebook, stream]
        # The squared distances, multiplied out: all frames of a codebook in three products.
        distance = frames[own] ** 2 @ (1 / variance).T - 2 * frames[own] @ (mean / variance).T
        constant = (mean**2 / variance + np.log(2 * np.pi * variance)).sum(axis=1)
        scores[own] -= 0.5 * (distance + constant)
    best = scores.max(axis=1, keepdims=True)
    shares = np.exp(scores - best)
    total = shares.sum(axis=1, keepdims=True)
    return shares / total, np.asarray((best + np.log(total))[:, 0])


def _statistics(
    model: AcousticModel, transform: Transform, readings: Sequence[Aligned]
) -> tuple[Numbers, Numbers]:
    """Return how many frames each Gaussian made, shape (codebooks, STREAMS, densities), and the
    sum of these frames, shape (codebooks, STREAMS, densities, CEPSTRA)."""
    means = transform.of(model.means)
    occupied, observed = np.zeros(means.shape[:3]), np.zeros(means.shape)
    for reading in readings:
        for stream in range(STREAMS):
            shares, _ = _shares(model, means, reading, stream)
            for codebook in np.unique(reading.codebooks):
                own = reading.codebooks == codebook
                occupied[codebook, stream] += shares[own].sum(axis=0)
                observed[codebook, stream] += shares[own].T @ reading.features[own, stream]
    return occupied, observed
