"""Which state of which phone every frame of a reading belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from dictate.enrolment.acoustic_model import acoustic_model
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.audio import Samples
from dictate.speech.front_end import features
from dictate.speech.sphinx_decoder import Features, dictionary_of, grammar_decoder
from dictate.speech.transform import Numbers

Indices: TypeAlias = npt.NDArray[np.int64]

_SEARCH = {"beam": 1e-80, "wbeam": 1e-60, "pbeam": 1e-80, "bestpath": False}
"""Wide: there is but one sentence to follow. The search for a best path through the lattice drops
words off the end."""


@dataclass(frozen=True, eq=False)
class Aligned:
    """One reading: `features` of shape (frames, streams, CEPSTRA), and for every frame the
    codebook of its phone and the senone of its state, shape (frames,)."""

    features: Numbers
    codebooks: Indices
    senones: Indices


_dictionary = cache(dictionary_of)


class Aligner:
    """Aligns sound with the words that were read, by PocketSphinx itself, on the features that the
    engine decodes."""

    def __init__(self, languages: SpokenLanguages, mllr: Path | None = None) -> None:
        """Align with the engine's own model, or with one that a transform has fitted."""
        self._phones = {name: place for place, name in enumerate(acoustic_model().phones)}
        self._decoder = grammar_decoder(_dictionary(languages), mllr, _SEARCH)

    def align(self, text: str, samples: Samples) -> Aligned | None:
        """Return the alignment of samples, shape (n,), with the words of `text`; None where they
        cannot have been said."""
        cepstra = features(samples)
        if not _has_energy(cepstra).any():
            return None
        decoder = self._decoder
        decoder.set_align_text(text)
        try:
            self._decode(cepstra)
            if decoder.hyp() is None:
                return None
            decoder.set_alignment()
            self._decode(cepstra)
        except RuntimeError:
            return None
        return self._aligned(cepstra)

    def _decode(self, cepstra: Features) -> None:
        self._decoder.start_utt()
        try:
            self._decoder.process_cep(cepstra.tobytes(), full_utt=True)
        finally:
            self._decoder.end_utt()

    def _aligned(self, cepstra: Features) -> Aligned:
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
        streams = streams_of(cepstra.astype(np.float64))
        return Aligned(streams[known], codebooks[known], senones[known])


def streams_of(cepstra: Numbers) -> Numbers:
    """Return the streams that the model scores (PocketSphinx's `1s_c_d_dd`, cepstral mean taken
    off), shape (frames, 3, CEPSTRA), of the cepstra of an utterance, shape (frames, CEPSTRA), some
    of which have energy."""
    centred = cepstra - cepstra[_has_energy(cepstra)].mean(axis=0)
    places = np.arange(len(centred))

    def moved(by: int) -> Numbers:
        return np.asarray(centred[np.clip(places + by, 0, len(centred) - 1)])

    first = moved(2) - moved(-2)
    second = (moved(3) - moved(-1)) - (moved(1) - moved(-3))
    return np.stack([centred, first, second], axis=1)


def _has_energy(cepstra: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Return which frames PocketSphinx takes the cepstral mean of, shape (frames,)."""
    return np.asarray(cepstra[:, 0] >= 0)
