"""Which state of which phone every frame of a reading belongs to."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pocketsphinx

from dictate.enrolment.acoustic_model import CEPSTRA, Numbers, acoustic_model
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.sphinx_decoder import dictionary_of, model_folder

Indices: TypeAlias = npt.NDArray[np.int64]

_BEAMS = {"beam": 1e-80, "wbeam": 1e-60, "pbeam": 1e-80}
"""Wide: there is but one sentence to follow."""


@dataclass(frozen=True, eq=False)
class Aligned:
    """One reading: `features` of shape (frames, streams, CEPSTRA), and for every frame the
    codebook of its phone and the senone of its state, shape (frames,)."""

    features: Numbers
    codebooks: Indices
    senones: Indices


_dictionary = cache(dictionary_of)


class Aligner:
    """Aligns sound with the words that were read, by PocketSphinx itself.

    A context manager: the cepstra pass through files in a private folder, which is removed.
    """

    def __init__(self, languages: SpokenLanguages, mllr: Path | None = None) -> None:
        """Align with the engine's own model, or with one that a transform has fitted."""
        self._folder = tempfile.TemporaryDirectory(prefix="dictate-")
        self._phones = {name: place for place, name in enumerate(acoustic_model().phones)}
        words = Path(self._folder.name) / "words.dict"
        words.write_text(_dictionary(languages), encoding="utf-8")
        transform = {} if mllr is None else {"mllr": str(mllr)}
        self._decoder = pocketsphinx.Decoder(
            hmm=str(model_folder() / "en-us"),
            dict=str(words),
            lm=None,
            samprate=SAMPLE_RATE,
            loglevel="FATAL",
            # The search for a best path through the lattice drops words off the end.
            bestpath=False,
            mfclogdir=self._folder.name,
            **_BEAMS,
            **transform,
        )

    def __enter__(self) -> Aligner:
        return self

    def __exit__(self, *_: object) -> None:
        self._folder.cleanup()

    def align(self, text: str, samples: Samples) -> Aligned | None:
        """Return the alignment of samples, shape (n,), with the words of `text`; None where they
        cannot have been said."""
        decoder = self._decoder
        decoder.set_align_text(text)
        try:
            self._decode(samples)
            if decoder.hyp() is None:
                return None
            decoder.set_alignment()
            cepstra = self._decode(samples)
        except RuntimeError:
            return None
        return self._aligned(cepstra)

    def _decode(self, samples: Samples) -> Numbers:
        """Decode a whole utterance, and return its cepstra, shape (frames, CEPSTRA)."""
        self._decoder.start_utt()
        try:
            self._decoder.process_raw(samples.tobytes(), full_utt=True)
        finally:
            self._decoder.end_utt()
            (log,) = Path(self._folder.name).glob("*.mfc")
            content = log.read_bytes()
            log.unlink()
        return np.frombuffer(content, ">f4", offset=4).reshape(-1, CEPSTRA).astype(np.float64)

    def _aligned(self, cepstra: Numbers) -> Aligned:
        codebooks = np.full(len(cepstra), -1, np.int64)
        senones = np.full(len(cepstra), -1, np.int64)
        words: Any = self._decoder.get_alignment()
        # The entries are only valid while they are iterated over.
        for word in words:
            for phone in word:
                for state in phone:
                    frames = slice(state.start, state.start + state.duration)
                    codebooks[frames] = self._phones[phone.name]
                    senones[frames] = int(state.name)
        known = codebooks >= 0
        return Aligned(features(cepstra)[known], codebooks[known], senones[known])


def features(cepstra: Numbers) -> Numbers:
    """Return the streams that the model scores (PocketSphinx's `1s_c_d_dd`, cepstral mean taken
    off), shape (frames, 3, CEPSTRA), of the cepstra of an utterance, shape (frames, CEPSTRA)."""
    centred = cepstra - cepstra.mean(axis=0)
    places = np.arange(len(centred))

    def moved(by: int) -> Numbers:
        return np.asarray(centred[np.clip(places + by, 0, len(centred) - 1)])

    first = moved(2) - moved(-2)
    second = (moved(3) - moved(-1)) - (moved(1) - moved(-3))
    return np.stack([centred, first, second], axis=1)
