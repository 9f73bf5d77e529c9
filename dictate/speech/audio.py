"""What audio is in this program: 16 kHz, mono, signed 16-bit samples with a place in time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Protocol, TypeAlias

import numpy as np
import numpy.typing as npt

SAMPLE_RATE = 16_000
"""Samples per second (Hz) everywhere after a source."""

Samples: TypeAlias = npt.NDArray[np.int16]
"""One-dimensional array, shape (n,), of mono samples at SAMPLE_RATE."""


@dataclass(frozen=True)
class UtteranceAudio:
    """One stretch of speech cut out of a source.

    `samples` has shape (n,); `start_s` and `end_s` are seconds from the start of the source
    (for a file, of that file). `file` names the file it came from, None for a microphone.
    """

    samples: Samples
    start_s: float
    end_s: float
    file: str | None = None


class AudioSource(Protocol):
    """Anything that yields blocks of Samples in order, of any length, until it ends."""

    name: str

    def blocks(self) -> Iterator[Samples]:
        """Yield consecutive blocks of mono 16 kHz samples, each of shape (n,)."""
        ...


class OpenedLate:
    """An AudioSource that is opened when its first block is asked for, on the thread that asks: to
    open a microphone can take long."""

    name = ""

    def __init__(self, open_source: Callable[[], AudioSource]) -> None:
        self._open = open_source

    def blocks(self) -> Iterator[Samples]:
        """Yield the blocks of the source; raise what opening it raises."""
        source = self._open()
        self.name = source.name
        yield from source.blocks()
