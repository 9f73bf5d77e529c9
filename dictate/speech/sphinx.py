"""PocketSphinx: the engine whose English model comes inside its package.

Every utterance is decoded twice: with the grammar, and with a loop of any phones whatever
(the package's phone language model). A grammar turns any sound into a sentence; how much worse
that sentence explains the sound than free phones do tells charting from other speech.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from dictate.grammar.spoken import CHARTING, SpokenLanguages
from dictate.speech.audio import SAMPLE_RATE, Samples
from dictate.speech.doubt import WORTH_ANOTHER_LOOK, Evidence, judge
from dictate.speech.recogniser import NOTE, HeardWord, Hypothesis
from dictate.speech.sphinx_decoder import (
    SUNK,
    USUAL_BEAMS,
    WIDE_BEAMS,
    Segment,
    decode,
    dictionary_of,
    finite_state_grammar,
    free_decoder,
    grammar_decoder,
    model_folder,
    plain,
)

FRAME_S = 0.01
"""Length of a PocketSphinx frame in s."""

_PHONES = "any phones"
_ONE = "one sentence"

_CLEAR_MARGIN = 3.0
"""By how much the log likelihood of a sentence must pass that of its rival. On eight
synthetic voices that said thirteen to ninety: of 15 heard wrongly 14 come below it, of 97 heard
rightly 28."""


class SphinxRecogniser:
    """The embedded engine, listening for the sentences of one context at a time.

    Raises DictateError where its model is missing or a word has no pronunciation.
    """

    name = "sphinx"

    def __init__(self, languages: SpokenLanguages) -> None:
        self._languages = languages
        self._dictionary = dictionary_of(languages)
        self._decoder = grammar_decoder(self._dictionary, USUAL_BEAMS)
        self._decoder.add_allphone_file(_PHONES, str(model_folder() / "en-us-phone.lm.bin"))
        self._wide_decoder: Any = None
        self._note_decoder: Any = None
        self._ready: set[tuple[int, str]] = set()
        self._listening = False
        contexts = languages.contexts
        self.context = CHARTING if CHARTING in contexts else contexts[0]
        self.attend(self.context)

    def attend(self, context: str) -> None:
        """Listen for what can be said in this part of the visit, from the next call on."""
        if self._listening and context != self.context:
            self._close()
        self.context = context
        if context != NOTE:
            self._make_ready(self._decoder)

    def start(self) -> None:
        """Begin an utterance whose words are wanted while it is spoken."""
        self._close()
        if self.context == NOTE:
            return
        self._decoder.activate_search(self.context)
        self._decoder.start_utt()
        self._listening = True

    def feed(self, samples: Samples) -> str:
        """Take more of the utterance (shape (n,)); return the words so far, none of a note."""
        if self.context == NOTE:
            return ""
        if not self._listening:
            self.start()
        self._decoder.process_raw(samples.tobytes())
        hypothesis = self._decoder.hyp()
        return plain(hypothesis.hypstr) if hypothesis else ""

    def finish(self, samples: Samples) -> Hypothesis:
        """Decode the whole utterance (shape (n,)) with its own cepstral mean, and judge it."""
        self._close()
        if self.context == NOTE:
            return self._note(samples)
        hypothesis = judge(self.evidence(samples), self.name)
        return self._compared(hypothesis, samples) if hypothesis.trust == "sure" else hypothesis

    def evidence(self, samples: Samples) -> Evidence:
        """Return what the two decodings of `samples` say."""
        frames = len(samples) // int(SAMPLE_RATE * FRAME_S) + 2
        phones = decode(self._decoder, _PHONES, samples)
        segments = decode(self._decoder, self.context, samples)
        evidence = _weigh(segments, phones, frames, self._is_sentence(segments))
        if evidence.is_sentence or evidence.support < WORTH_ANOTHER_LOOK:
            return evidence
        if self._wide_decoder is None:
            self._wide_decoder = grammar_decoder(self._dictionary, WIDE_BEAMS)
        self._make_ready(self._wide_decoder)
        segments = decode(self._wide_decoder, self.context, samples)
        return _weigh(segments, phones, frames, self._is_sentence(segments))

    def _note(self, samples: Samples) -> Hypothesis:
        """Return what general English makes of a note: never sure, for it was made for other
        talk than a clinic's. The model is loaded when the first note is taken."""
        if self._note_decoder is None:
            self._note_decoder = free_decoder()
        segments = decode(self._note_decoder, None, samples)
        words = " ".join(each.word for each in segments if not each.is_silence)
        reason = "What was made of a note is not verified."
        return Hypothesis(words, score=0.0, trust="doubtful", reason=reason, engine=self.name)

    def _compared(self, hypothesis: Hypothesis, samples: Samples) -> Hypothesis:
        """Return the hypothesis, doubtful where the sound bears out a confusable word nearly as
        well: the search may have dropped that one on its way."""
        rivals = list(self._languages.rivals(self.context, hypothesis.text))
        heard = self._likelihood(hypothesis.text, samples) if rivals else 0.0
        for other, word, rival in rivals:
            if heard - self._likelihood(other, samples) < _CLEAR_MARGIN:
                reason = f"“{word}” or “{rival}”?"
                return replace(
                    hypothesis,
                    trust="doubtful",
                    reason=reason,
                    score=min(hypothesis.score, 0.49),
                    alternatives=(*hypothesis.alternatives, other),
                )
        return hypothesis

    def _likelihood(self, text: str, samples: Samples) -> float:
        """Return the log likelihood of the sound where these words and no others were said."""
        words = text.split()
        arcs = [(place, place + 1, 1.0, word) for place, word in enumerate(words)]
        self._decoder.add_fsg(_ONE, self._decoder.create_fsg(_ONE, 0, len(words), arcs))
        segments = decode(self._decoder, _ONE, samples)
        if [each.word for each in segments if not each.is_silence] != words:
            return -math.inf
        return float(sum(each.per_frame * (each.last - each.first + 1) for each in segments))

    def _make_ready(self, decoder: Any) -> None:
        """Give a decoder the grammar of the context, where it has not got it yet."""
        if (id(decoder), self.context) not in self._ready:
            graph = self._languages[self.context].graph
            decoder.add_fsg(self.context, finite_state_grammar(decoder, graph))
            self._ready.add((id(decoder), self.context))

    def _is_sentence(self, segments: list[Segment]) -> bool:
        words = [each.word for each in segments if not each.is_silence]
        return self._languages[self.context].allows(words)

    def _close(self) -> None:
        if self._listening:
            self._decoder.end_utt()
            self._listening = False


def _weigh(
    segments: list[Segment], phones: list[Segment], frames: int, is_sentence: bool
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
        support=float(margin[heard].mean()) if heard.any() else SUNK,
        covered=float(spoken[voiced].mean()) if voiced.any() else 0.0,
    )


def _frame_scores(segments: Iterable[Segment], frames: int) -> npt.NDArray[np.float64]:
    scores = np.zeros(frames)
    for each in segments:
        scores[each.first : each.last + 1] = each.per_frame
    return scores


def _speech_frames(segments: Iterable[Segment], frames: int) -> npt.NDArray[np.bool_]:
    speech = np.zeros(frames, dtype=bool)
    for each in segments:
        if not each.is_silence:
            speech[each.first : each.last + 1] = True
    return speech
