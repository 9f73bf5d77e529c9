"""PocketSphinx's decoders: how one is made, given a grammar, and asked."""

from __future__ import annotations

import math
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from dictate.errors import DictateError
from dictate.grammar.automaton import WordGraph
from dictate.grammar.pronunciation import all_ways
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.audio import SAMPLE_RATE
from dictate.speech.front_end import narrow_band_model
from dictate.speech.transform import mllr_text

_SEARCH = {
    "beam": 1e-60,
    "wbeam": 1e-36,
    "pbeam": 1e-60,
    "maxhmmpf": 2000,
    "wip": 0.02,
    "silprob": 0.5,
    "bestpath": False,
}
"""How wide the search is, and the probabilities of a word and of silence. On the tuning part of
tests/benchmarks/recognition.py none of them matters much, between a half and twice as much of each;
the second search through the lattice of words (`bestpath`) is left out because it costs four
times the time of all else in noise, and loses the last words of some sentences."""

IN_NOISE = Path(__file__).with_name("in_noise.mllr")
"""What noise, and its suppression, makes of the model's means: tests/benchmarks/noise_model.py."""

PHONES = "any phones"
"""The search through any phones whatever."""

_NO_WORD = "(NULL)"
_GRAMMAR_SCALE = 1024.0
"""PocketSphinx shifts the scores of a search through a grammar right by ten bits (SENSCR_SHIFT)."""

_FEWEST_FRAMES = 10

Features = npt.NDArray[np.float32]
"""Cepstra, shape (frames, 13); see front_end."""

SUNK = -20.0
"""Log likelihood per frame given to a segment whose score is too low to be represented."""


class Segment:
    """A word or phone over frames first..last, with its acoustic log likelihood per frame."""

    def __init__(self, raw: Any, scale: float = 1.0) -> None:
        self.word = plain(raw.word)
        self.first, self.last = raw.start_frame, raw.end_frame
        length = self.last - self.first + 1
        score = math.log(raw.ascore) * scale if raw.ascore > 0 else SUNK * length
        self.per_frame: float = score / length

    @property
    def is_silence(self) -> bool:
        """Whether it is silence or noise, and no word or phone."""
        return self.word[:1] in "<[+" or self.word == "SIL"


def plain(text: str) -> str:
    """Return words without the numbers that mark their other pronunciations."""
    return re.sub(r"\(\d+\)", "", text)


def decode(decoder: Any, search: str | None, heard: Features) -> list[Segment]:
    """Return what a search (None: the decoder's only one) makes of the features of a whole
    utterance, shape (frames, 13), with its own cepstral mean; nothing where it finds no way
    through."""
    if len(heard) < _FEWEST_FRAMES:
        return []
    if search is not None:
        decoder.activate_search(search)
    decoder.reinit_feat()  # else the mean of what was heard before would count
    decoder.start_utt()
    decoder.process_cep(heard.tobytes(), full_utt=True)
    decoder.end_utt()
    if not decoder.hyp():
        return []
    scale = 1.0 if search == PHONES else _GRAMMAR_SCALE
    return [Segment(raw, scale) for raw in decoder.seg() or () if raw.word != _NO_WORD]


def likelihood(decoder: Any) -> float:
    """Return the log likelihood of what was decoded last in a grammar, its weights included."""
    return float(math.log(decoder.hyp().score) * _GRAMMAR_SCALE)


def _pocketsphinx() -> Any:
    try:
        import pocketsphinx
    except ImportError as error:
        raise DictateError("PocketSphinx is missing: install dictate again.") from error
    return pocketsphinx


def model_folder() -> Path:
    """Return the folder of the English model that is inside the package."""
    return Path(_pocketsphinx().get_model_path("en-us"))


def grammar_decoder(
    dictionary: str, mllr: Path | None = None, search: Mapping[str, Any] = _SEARCH
) -> Any:
    """Return a decoder of a dictionary's words that has no grammar yet, its acoustic model fitted
    to a voice by the transform in a file."""
    with tempfile.TemporaryDirectory(prefix="dictate-") as folder:
        path = Path(folder) / "words.dict"
        path.write_text(dictionary, encoding="utf-8")
        return _decoder({"dict": str(path), **search}, mllr)


def phone_decoder(mllr: Path | None = None) -> Any:
    """Return a decoder that hears any phones whatever, by the package's phone language model. Its
    narrow beams change the log likelihood by a thousandth and take a quarter of the time."""
    decoder = _decoder({"dict": None, "beam": 1e-20, "pbeam": 1e-10}, mllr)
    decoder.add_allphone_file(PHONES, str(model_folder() / "en-us-phone.lm.bin"))
    return decoder


class Ears:
    """The two decoders that hear with one acoustic model: by a grammar, and any phones."""

    def __init__(self, languages: SpokenLanguages, mllr: Path | None = None) -> None:
        self.words = grammar_decoder(dictionary_of(languages), mllr)
        self.phones = phone_decoder(mllr)
        self._languages = languages
        self._ready: set[str] = set()

    def attend(self, context: str) -> None:
        """Be ready for the sentences of a context."""
        if context not in self._ready:
            graph = self._languages[context].graph
            self.words.add_fsg(context, finite_state_grammar(self.words, graph))
            self._ready.add(context)


def narrow_band_ears(languages: SpokenLanguages) -> Ears:
    """Return the ears for sound that holds nothing above 4 kHz."""
    with tempfile.TemporaryDirectory(prefix="dictate-") as folder:
        path = Path(folder) / "mllr"
        path.write_text(mllr_text(narrow_band_model()), encoding="ascii")
        return Ears(languages, path)


def noisy_ears(languages: SpokenLanguages) -> Ears:
    """Return the ears for sound out of which noise was taken."""
    return Ears(languages, IN_NOISE)


def _decoder(settings: Mapping[str, Any], mllr: Path | None) -> Any:
    voice = {} if mllr is None else {"mllr": str(mllr)}
    return _pocketsphinx().Decoder(
        hmm=str(model_folder() / "en-us"),
        lm=None,
        samprate=SAMPLE_RATE,
        loglevel="FATAL",
        **settings,
        **voice,
    )


def free_decoder() -> Any:
    """Return a decoder of general English, with the package's own language model."""
    return _pocketsphinx().Decoder(
        hmm=str(model_folder() / "en-us"),
        dict=str(model_folder() / "cmudict-en-us.dict"),
        lm=str(model_folder() / "en-us.lm.bin"),
        samprate=SAMPLE_RATE,
        loglevel="FATAL",
    )


def finite_state_grammar(decoder: Any, graph: WordGraph) -> Any:
    """Return a graph as the grammar that a decoder takes."""
    final = 1 + max(max(start, end) for start, end, _, _ in graph.arcs)
    words = [(start, end, weight, word) for start, end, word, weight in graph.arcs]
    endings = [(state, final, 1.0) for state in sorted(graph.finals)]
    return decoder.create_fsg("grammar", 0, final, [*words, *endings])


def dictionary_of(languages: SpokenLanguages) -> str:
    """Return a dictionary of the words of all contexts: it loads in a moment."""
    known = all_ways(languages.words, languages.pronunciations)
    lines = []
    for word in languages.words:
        ways = known.get(word)
        if not ways:
            raise DictateError(f"Add how “{word}” sounds to grammars/pronunciations.txt.")
        lines += [
            f"{word} {phones}" if number == 1 else f"{word}({number}) {phones}"
            for number, phones in enumerate(ways, start=1)
        ]
    return "\n".join(lines) + "\n"
