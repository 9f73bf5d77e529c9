"""PocketSphinx: the engine whose English model comes inside its package.

Every utterance is decoded twice: with the grammar, and with a loop of any phones whatever
(the package's phone language model). A grammar turns any sound into a sentence; how much worse
that sentence explains the sound than free phones do tells charting from other speech.
"""

from __future__ import annotations

import math
import re
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from dictate.errors import DictateError
from dictate.grammar.automaton import WordGraph
from dictate.grammar.spoken import CHARTING, SpokenLanguages
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.doubt import WORTH_ANOTHER_LOOK, Evidence, judge
from dictate.speech.recogniser import HeardWord, Hypothesis

FRAME_S = 0.01
"""Length of a PocketSphinx frame in s."""

_PHONES = "any phones"

_USUAL_BEAMS = {"beam": 1e-60, "wbeam": 1e-36, "pbeam": 1e-60}
_WIDE_BEAMS = {"beam": 1e-75, "wbeam": 1e-45, "pbeam": 1e-75}
_WORD_INSERTION = 0.02
_SILENCE = 0.5
"""Beams and the probabilities of a word and of silence: chosen on synthetic voices. Narrower
beams lose the end of a sentence, wider ones cost five times the time; with less silence a quiet
ending is heard as one more short word. See tests/benchmarks/first_job.py."""

_SUNK = -20.0
"""Log likelihood per frame given to a segment whose score is too low to be represented."""


class SphinxRecogniser:
    """The embedded engine, listening for the sentences of one context at a time.

    Raises DictateError where its model is missing or a word has no pronunciation.
    """

    name = "sphinx"

    def __init__(self, languages: SpokenLanguages) -> None:
        self._languages = languages
        self._dictionary = _dictionary(languages)
        self._decoder = _decoder(self._dictionary, _USUAL_BEAMS)
        self._decoder.add_allphone_file(_PHONES, str(_model() / "en-us-phone.lm.bin"))
        self._wide_decoder: Any = None
        self._ready: set[tuple[int, str]] = set()
        self._listening = False
        self._context = CHARTING
        self.attend(CHARTING)

    def attend(self, context: str) -> None:
        """Listen for what can be said in this part of the visit, from the next call on."""
        if self._listening and context != self._context:
            self._close()
        self._context = context
        self._make_ready(self._decoder)

    def start(self) -> None:
        """Begin an utterance whose words are wanted while it is spoken."""
        self._close()
        self._decoder.activate_search(self._context)
        self._decoder.start_utt()
        self._listening = True

    def feed(self, samples: Samples) -> str:
        """Take more of the utterance (shape (n,)); return the words so far."""
        if not self._listening:
            self.start()
        self._decoder.process_raw(samples.tobytes())
        hypothesis = self._decoder.hyp()
        return _plain(hypothesis.hypstr) if hypothesis else ""

    def finish(self, samples: Samples) -> Hypothesis:
        """Decode the whole utterance (shape (n,)) with its own cepstral mean, and judge it."""
        self._close()
        return judge(self.evidence(samples), self.name)

    def evidence(self, samples: Samples) -> Evidence:
        """Return what the two decodings of `samples` say."""
        frames = len(samples) // int(SAMPLE_RATE * FRAME_S) + 2
        phones = _decode(self._decoder, _PHONES, samples)
        segments = _decode(self._decoder, self._context, samples)
        evidence = _weigh(segments, phones, frames, self._is_sentence(segments))
        if evidence.is_sentence or evidence.support < WORTH_ANOTHER_LOOK:
            return evidence
        if self._wide_decoder is None:
            self._wide_decoder = _decoder(self._dictionary, _WIDE_BEAMS)
        self._make_ready(self._wide_decoder)
        segments = _decode(self._wide_decoder, self._context, samples)
        return _weigh(segments, phones, frames, self._is_sentence(segments))

    def _make_ready(self, decoder: Any) -> None:
        """Give a decoder the grammar of the context, where it has not got it yet."""
        if (id(decoder), self._context) not in self._ready:
            graph = self._languages[self._context].graph
            decoder.add_fsg(self._context, _finite_state_grammar(decoder, graph))
            self._ready.add((id(decoder), self._context))

    def _is_sentence(self, segments: list[_Segment]) -> bool:
        words = [each.word for each in segments if not each.is_silence]
        return self._languages[self._context].allows(words)

    def _close(self) -> None:
        if self._listening:
            self._decoder.end_utt()
            self._listening = False


class _Segment:
    """A word or phone over frames first..last, with its acoustic log likelihood per frame."""

    def __init__(self, raw: Any) -> None:
        self.word = _plain(raw.word)
        self.first, self.last = raw.start_frame, raw.end_frame
        length = self.last - self.first + 1
        self.per_frame = math.log(raw.ascore) / length if raw.ascore > 0 else _SUNK

    @property
    def is_silence(self) -> bool:
        return self.word[:1] in "<[+" or self.word == "SIL"


def _plain(text: str) -> str:
    return re.sub(r"\(\d+\)", "", text)


def _decode(decoder: Any, search: str, samples: Samples) -> list[_Segment]:
    decoder.activate_search(search)
    decoder.start_utt()
    decoder.process_raw(samples.tobytes(), full_utt=True)
    decoder.end_utt()
    return [_Segment(raw) for raw in decoder.seg() or ()] if decoder.hyp() else []


def _weigh(
    segments: list[_Segment], phones: list[_Segment], frames: int, is_sentence: bool
) -> Evidence:
    grammar = _frame_scores(segments, frames)
    free = _frame_scores(phones, frames)
    spoken = _speech_frames(segments, frames)
    voiced = _speech_frames(phones, frames)
    margin = grammar - free
    words = [
        HeardWord(
            each.word,
            each.first * FRAME_S,
            (each.last + 1) * FRAME_S,
            float(margin[each.first : each.last + 1].mean()),
        )
        for each in segments
        if not each.is_silence
    ]
    heard = spoken | voiced
    return Evidence(
        words=tuple(words),
        is_sentence=is_sentence,
        support=float(margin[heard].mean()) if heard.any() else _SUNK,
        covered=float(spoken[voiced].mean()) if voiced.any() else 0.0,
    )


def _frame_scores(segments: Iterable[_Segment], frames: int) -> npt.NDArray[np.float64]:
    scores = np.zeros(frames)
    for each in segments:
        scores[each.first : each.last + 1] = each.per_frame
    return scores


def _speech_frames(segments: Iterable[_Segment], frames: int) -> npt.NDArray[np.bool_]:
    speech = np.zeros(frames, dtype=bool)
    for each in segments:
        if not each.is_silence:
            speech[each.first : each.last + 1] = True
    return speech


def _pocketsphinx() -> Any:
    try:
        import pocketsphinx
    except ImportError as error:
        raise DictateError("PocketSphinx is missing: install dictate again.") from error
    return pocketsphinx


def _model() -> Path:
    return Path(_pocketsphinx().get_model_path("en-us"))


def _decoder(dictionary: str, beams: Mapping[str, float]) -> Any:
    with tempfile.TemporaryDirectory(prefix="dictate-") as folder:
        path = Path(folder) / "words.dict"
        path.write_text(dictionary, encoding="utf-8")
        return _pocketsphinx().Decoder(
            hmm=str(_model() / "en-us"),
            dict=str(path),
            lm=None,
            samprate=SAMPLE_RATE,
            loglevel="FATAL",
            wip=_WORD_INSERTION,
            silprob=_SILENCE,
            **beams,
        )


def _finite_state_grammar(decoder: Any, graph: WordGraph) -> Any:
    final = 1 + max(max(start, end) for start, end, _, _ in graph.arcs)
    words = [(start, end, weight, word) for start, end, word, weight in graph.arcs]
    endings = [(state, final, 1.0) for state in sorted(graph.finals)]
    return decoder.create_fsg("grammar", 0, final, [*words, *endings])


def _dictionary(languages: SpokenLanguages) -> str:
    """Return a dictionary of the words of all contexts: it loads in a moment."""
    known: dict[str, list[str]] = {}
    wanted = set(languages.words)
    text = (_model() / "cmudict-en-us.dict").read_text(encoding="utf-8")
    for line in text.splitlines():
        word, _, phones = line.partition(" ")
        if _plain(word) in wanted:
            known.setdefault(_plain(word), []).append(phones)
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
