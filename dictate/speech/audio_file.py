"""Recordings read as a microphone is: in order, block by block."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from dictate.errors import DictateError
from dictate.speech.audio import SAMPLE_RATE, Samples

BLOCK_S = 0.1
"""Length (s) of the blocks read from a file."""

_UNKNOWN_LENGTH = 0x7FFF0000
"""From here on, a length in a WAV header is a placeholder by a program that wrote to a pipe."""


class AudioFile:
    """An AudioSource reading WAV, FLAC, Ogg and what else libsndfile reads.

    Any sample rate and number of channels; channels are averaged. `name` is the file's name.
    """

    def __init__(
        self,
        path: Path | str,
        *,
        real_time: bool = False,
        sleep: Callable[[float], None] = time.sleep,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Check that the file can be read; with `real_time` blocks come as from a microphone.

        `sleep` takes and `clock` returns seconds. Raises DictateError if the file is missing,
        empty, not audio, or shorter than it says it is.
        """
        self.path = Path(path)
        self.name = self.path.name
        self._real_time = real_time
        self._sleep = sleep
        self._clock = clock
        with self._open() as file:
            self.duration_s: float | None = _duration_s(file)
            self._check_complete(file)

    def blocks(self) -> Iterator[Samples]:
        """Yield the file from its start in blocks of about 0.1 s.

        Raises DictateError if the file can no longer be read, or its end is missing or damaged.
        """
        blocks = self._resampled_blocks()
        return self._paced(blocks) if self._real_time else blocks

    def _open(self) -> soundfile.SoundFile:
        try:
            with self.path.open("rb") as file:
                if not file.read(1):
                    raise self._empty()
            return soundfile.SoundFile(self.path)
        except FileNotFoundError as error:
            raise DictateError(
                f"There is no file {self.path}; check its name and folder."
            ) from error
        except OSError as error:
            raise DictateError(
                f"{self.path} cannot be opened ({error.strerror}); name one that you may read."
            ) from error
        except soundfile.LibsndfileError as error:
            raise DictateError(
                f"{self.path} is not a recording that can be read; "
                "save it as WAV, FLAC or Ogg and try again."
            ) from error

    def _check_complete(self, file: soundfile.SoundFile) -> None:
        if _is_cut_short(file):
            raise self._cut_short()
        if file.frames == 0:
            raise self._empty()

    def _resampled_blocks(self) -> Iterator[Samples]:
        with self._open() as file:
            resampler = None
            if file.samplerate != SAMPLE_RATE:
                resampler = soxr.ResampleStream(file.samplerate, SAMPLE_RATE, 1, dtype="float32")
            for mono in self._mono_blocks(file):
                block = mono if resampler is None else resampler.resample_chunk(mono)
                if block.size:
                    yield to_samples(block)
            if resampler is not None:
                rest = resampler.resample_chunk(np.zeros(0, np.float32), last=True)
                if rest.size:
                    yield to_samples(rest)

    def _mono_blocks(self, file: soundfile.SoundFile) -> Iterator[npt.NDArray[np.float32]]:
        frames = max(1, round(file.samplerate * BLOCK_S))
        read = 0
        while True:
            try:
                block = file.read(frames, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError as error:
                raise self._cut_short() from error
            if not len(block):
                break
            read += len(block)
            yield block.mean(axis=1)
        if read == 0:
            raise self._empty()

    def _paced(self, blocks: Iterator[Samples]) -> Iterator[Samples]:
        """Hold each block back until the moment its last sample would have been recorded."""
        start_s = self._clock()
        given = 0
        for block in blocks:
            given += block.size
            early_s = start_s + given / SAMPLE_RATE - self._clock()
            if early_s > 0:
                self._sleep(early_s)
            yield block

    def _empty(self) -> DictateError:
        return DictateError(f"{self.path} holds no sound; record it again.")

    def _cut_short(self) -> DictateError:
        return DictateError(
            f"{self.path} is damaged or its end is missing; copy it again from where it was made."
        )


def to_samples(sound: npt.NDArray[np.float32]) -> Samples:
    """Return sound of full scale 1, shape (n,), as Samples; louder sound is clipped."""
    scaled = np.rint(np.nan_to_num(sound, posinf=1.0, neginf=-1.0) * 32768.0)
    samples: Samples = np.clip(scaled, -32768, 32767).astype(np.int16)
    return samples


def _duration_s(file: soundfile.SoundFile) -> float | None:
    """Return the length a file says it has, None where it says none (written to a pipe)."""
    duration_s = float(file.frames / file.samplerate)
    return duration_s if 0 < file.frames < 2**62 else None


def _is_cut_short(file: soundfile.SoundFile) -> bool:
    """Tell from libsndfile's notes on the file whether its end is missing."""
    notes = file.extra_info
    if "Last page lacks an end-of-stream bit" in notes:
        return True
    data = re.search(r"^data : (\d+) \(should be (\d+)\)", notes, re.MULTILINE)
    if data is None:
        return False
    said, there = int(data[1]), int(data[2])
    return there < said < _UNKNOWN_LENGTH
