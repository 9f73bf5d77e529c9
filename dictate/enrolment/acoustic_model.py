"""The numbers inside the embedded engine's acoustic model, which speaker adaptation needs.

A phonetically tied mixture: every phone has a codebook of Gaussians in each of three streams
(cepstra, and their first and second differences), every state of a word (a senone) its own
weights of them. File formats: SphinxTrain's S3 files, PocketSphinx's sendump and binary mdef.
"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from dictate.errors import DictateError
from dictate.speech.sphinx_decoder import model_folder
from dictate.speech.transform import CEPSTRA, STREAMS, Numbers

_LITTLE_ENDIAN = b"\x44\x33\x22\x11"
_LOG_OF_BASE = float(np.log(1.0001))
_WEIGHT_SHIFT = 10
_LEAST_VARIANCE = 1e-4
"""PocketSphinx's `logbase`, SENSCR_SHIFT and `varfloor`."""


@dataclass(frozen=True, eq=False)
class AcousticModel:
    """The mixtures of the model.

    `means` and `variances` have shape (codebooks, streams, densities, CEPSTRA); `log_weights`,
    natural logarithms, (streams, densities, senones). `phones` names the codebooks in order;
    `digest` is the SHA-256 of the file of means.
    """

    means: Numbers
    variances: Numbers
    log_weights: Numbers
    phones: tuple[str, ...]
    digest: str

    @property
    def speech(self) -> npt.NDArray[np.bool_]:
        """Which codebooks are of phones and not of silence or noise, shape (codebooks,)."""
        return np.array([name != "SIL" and not name.startswith("+") for name in self.phones])


@cache
def acoustic_model() -> AcousticModel:
    """Return the English model inside PocketSphinx's package.

    Raises DictateError where it is not the kind of model that can be adapted.
    """
    folder = model_folder() / "en-us"
    try:
        means = _gaussians(folder / "means")
        variances = np.maximum(_gaussians(folder / "variances"), _LEAST_VARIANCE)
        phones = _phones(folder / "mdef")
        weights = _weights(folder / "sendump", means.shape[2])
        digest = hashlib.sha256((folder / "means").read_bytes()).hexdigest()
    except (OSError, ValueError, struct.error) as error:
        raise _unknown(error) from error
    if means.shape[::3] != (len(phones), CEPSTRA) or means.shape != variances.shape:
        raise _unknown(ValueError("its files do not fit together"))
    return AcousticModel(means, variances, weights, phones, digest)


def _unknown(why: Exception) -> DictateError:
    return DictateError(
        f"The engine's acoustic model cannot be adapted ({why}): install the release of "
        "PocketSphinx that dictate was made for, 5.1.1."
    )


def _gaussians(path: Path) -> Numbers:
    """Read an S3 file: lines of header, a mark of byte order, sizes, and 32-bit floats."""
    header, _, body = path.read_bytes().partition(b"endhdr\n")
    if not header.startswith(b"s3\n") or body[:4] != _LITTLE_ENDIAN:
        raise ValueError(f"{path.name} is in another format")
    codebooks, streams, densities = struct.unpack_from("<3i", body, 4)
    *lengths, count = struct.unpack_from(f"<{streams + 1}i", body, 16)
    if streams != STREAMS or set(lengths) != {CEPSTRA}:
        raise ValueError(f"{path.name} has other streams")
    numbers = np.frombuffer(body, "<f4", count, 16 + 4 * (streams + 1))
    return numbers.reshape(codebooks, streams, densities, CEPSTRA).astype(np.float64)


def _weights(path: Path, densities: int) -> Numbers:
    """Read a sendump: strings of header, each after its length, then sizes and 8-bit weights."""
    content = path.read_bytes()
    place, strings = 0, []
    while length := struct.unpack_from("<i", content, place)[0]:
        strings.append(content[place + 4 : place + 4 + length].rstrip(b"\0!"))
        place += 4 + length
    rows, senones = struct.unpack_from("<2i", content, place + 4)
    if b"feature_count 3" not in strings or b"cluster_count 0" not in strings or rows != densities:
        raise ValueError(f"{path.name} is in another format")
    packed = np.frombuffer(content, np.uint8, STREAMS * rows * senones, place + 12)
    levels = packed.reshape(STREAMS, rows, senones).astype(np.int64) << _WEIGHT_SHIFT
    return np.asarray(-levels * _LOG_OF_BASE, dtype=np.float64)


def _phones(path: Path) -> tuple[str, ...]:
    """Read the names of the phones from a binary mdef: after a description and ten counts."""
    content = path.read_bytes()
    if content[:4] != b"BMDF":
        raise ValueError(f"{path.name} is in another format")
    (description,) = struct.unpack_from("<i", content, 8)
    (count,) = struct.unpack_from("<i", content, 12 + description)
    names = content[12 + description + 40 :].split(b"\0", count)[:count]
    return tuple(name.decode("ascii") for name in names)
