"""PocketSphinx's decoders: how one is made, given a grammar, and asked."""

from __future__ import annotations

import math
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dictate.errors import DictateError
from dictate.grammar.automaton import WordGraph
from dictate.grammar.spoken import SpokenLanguages
from dictate.speech.audio import SAMPLE_RATE, Samples

USUAL_BEAMS = {"beam": 1e-60, "wbeam": 1e-36, "pbeam": 1e-60}
WIDE_BEAMS = {"beam": 1e-75, "wbeam": 1e-45, "pbeam": 1e-75}
_WORD_INSERTION = 0.02
_SILENCE = 0.5
"""Beams and the probabilities of a word and of silence: chosen on synthetic voices. Narrower
beams lose the end of a sentence, wider ones cost five times the time; with less silence a quiet
ending is heard as one more short word. See tests/benchmarks/first_job.py."""

SUNK = -20.0
"""Log likelihood per frame given to a segment whose score is too low to be represented."""


class Segment:
    """A word or phone over frames first..last, with its acoustic log likelihood per frame."""

    def __init__(self, raw: Any) -> None:
        self.word = plain(raw.word)
        self.first, self.last = raw.start_frame, raw.end_frame
        length = self.last - self.first + 1
        self.per_frame: float = math.log(raw.ascore) / length if raw.ascore > 0 else SUNK

    @property
    def is_silence(self) -> bool:
        """Whether it is silence or noise, and no word or phone."""
        return self.word[:1] in "<[+" or self.word == "SIL"


def plain(text: str) -> str:
    """Return words without the numbers that mark their other pronunciations."""
    return re.sub(r"\(\d+\)", "", text)


def decode(decoder: Any, search: str | None, samples: Samples) -> list[Segment]:
    """Return what a search (None: the decoder's only one) makes of a whole utterance, shape (n,),
    with its own cepstral mean; nothing where it finds no way through."""
    if search is not None:
        decoder.activate_search(search)
    decoder.start_utt()
    decoder.process_raw(samples.tobytes(), full_utt=True)
    decoder.end_utt()
    return [Segment(raw) for raw in decoder.seg() or ()] if decoder.hyp() else []


def _pocketsphinx() -> Any:
    try:
        import pocketsphinx
    except ImportError as error:
        raise DictateError("PocketSphinx is missing: install dictate again.") from error
    return pocketsphinx


def model_folder() -> Path:
    """Return the folder of the English model that is inside the package."""
    return Path(_pocketsphinx().get_model_path("en-us"))


def grammar_decoder(dictionary: str, beams: Mapping[str, float]) -> Any:
    """Return a decoder of a dictionary's words that has no grammar yet."""
    with tempfile.TemporaryDirectory(prefix="dictate-") as folder:
        path = Path(folder) / "words.dict"
        path.write_text(dictionary, encoding="utf-8")
        return _pocketsphinx().Decoder(
            hmm=str(model_folder() / "en-us"),
            dict=str(path),
            lm=None,
            samprate=SAMPLE_RATE,
            loglevel="FATAL",
            wip=_WORD_INSERTION,
            silprob=_SILENCE,
            **beams,
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
    known: dict[str, list[str]] = {}
    wanted = set(languages.words)
    text = (model_folder() / "cmudict-en-us.dict").read_text(encoding="utf-8")
    for line in text.splitlines():
        word, _, phones = line.partition(" ")
        if plain(word) in wanted:
            known.setdefault(plain(word), []).append(phones)
    lines = []
    for word in languages.words:
        ways = languages.pronunciations.get(word) or known.get(word)
        if not ways:
            raise DictateError(f"Add how “{word}” sounds to grammars/pronunciations.txt.")
        lines += [
            f"{word} {phones}" if number == 1 else f"{word}({number}) {phones}"
            for number, phones in enumerate(ways, start=1)
        ]
    return "\n".join(lines) + "\n"
