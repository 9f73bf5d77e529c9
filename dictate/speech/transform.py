"""A linear transform of the means of the embedded engine's acoustic model, and the file it is read
from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Numbers: TypeAlias = npt.NDArray[np.float64]

STREAMS = 3
"""Cepstra, and their first and second differences."""
CEPSTRA = 13
"""Numbers in each stream of a frame."""


@dataclass(frozen=True, eq=False)
class Transform:
    """`rotation` A has shape (STREAMS, CEPSTRA, CEPSTRA), `offset` b (STREAMS, CEPSTRA)."""

    rotation: Numbers
    offset: Numbers

    def of(self, means: Numbers) -> Numbers:
        """Return means, shape (codebooks, STREAMS, densities, CEPSTRA), transformed."""
        moved = np.einsum("sij,csdj->csdi", self.rotation, means)
        return np.asarray(moved + self.offset[:, np.newaxis, :])


UNCHANGED = Transform(np.stack([np.eye(CEPSTRA)] * STREAMS), np.zeros((STREAMS, CEPSTRA)))


def mllr_text(transform: Transform) -> str:
    """Return a transform as the file that PocketSphinx's `mllr` takes (SphinxTrain's format): one
    class, the streams, and of each its length, A, b and how variances change: not at all."""
    lines = ["1", str(STREAMS)]
    for rotation, offset in zip(transform.rotation, transform.offset, strict=True):
        rows = [*rotation, offset, np.ones(CEPSTRA)]
        lines += [str(CEPSTRA), *(" ".join(f"{number:.7g}" for number in row) for row in rows)]
    return "\n".join(lines) + "\n"


def read_mllr(text: str) -> Transform:
    """Return the transform in a file that `mllr_text` wrote.

    Raises ValueError where it is no such file: the engine itself would not survive some of them.
    """
    numbers = np.array(text.split(), dtype=np.float64)
    block = 1 + CEPSTRA * (CEPSTRA + 2)
    if numbers.size != 2 + STREAMS * block or not np.isfinite(numbers).all():
        raise ValueError("not the numbers of a transform")
    streams = numbers[2:].reshape(STREAMS, block)
    if list(numbers[:2]) != [1, STREAMS] or (streams[:, 0] != CEPSTRA).any():
        raise ValueError("another kind of transform")
    rows = streams[:, 1:].reshape(STREAMS, CEPSTRA + 2, CEPSTRA)
    if (rows[:, -1] != 1).any():
        raise ValueError("it changes variances")
    return Transform(rows[:, :CEPSTRA].copy(), rows[:, CEPSTRA].copy())
