"""Whether an utterance was charting at all, and which of its words are in doubt.

The bounds were set on synthetic voices and chatter, apart from those in audio_fixtures: of 250
clips of chatter none was sure, of 112 charting utterances understood rightly 108 were, of 8
understood wrongly none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from dictate.speech.recogniser import HeardWord, Hypothesis

_SURE_SUPPORT = -4.65
_SURE_WEAKEST = -6.8
_SURE_WORD = -7.2
"""Least support of a single word that is more than a vowel or two."""
_FOREIGN_SUPPORT = -5.6
_FOREIGN_WEAKEST = -8.5
_LEAST_COVERED = 0.7
_STRETCH_S = 0.5
"""Support is compared over stretches of words at least so long (s): a single short word, such
as “oh” between two vowels, has little of its own."""

WORTH_ANOTHER_LOOK = _FOREIGN_SUPPORT
"""With less support than this the words do not matter."""


@dataclass(frozen=True)
class Evidence:
    """What two decodings of one utterance say.

    The support of a word, and `support` over all frames of speech, is the log likelihood per
    frame of the sound under the words less that under free phones: 0 is as good as it gets,
    charting lies around -3. `words` are the grammar's best sentence; `covered` the share of
    the frames in which free phones hear speech that the words cover; `is_sentence` whether the
    words are a whole sentence of the grammar.
    """

    words: tuple[HeardWord, ...]
    is_sentence: bool
    support: float
    covered: float


def judge(evidence: Evidence, engine: str) -> Hypothesis:
    """Return the hypothesis with its trust: "sure" where the words explain the sound nearly as
    well as free phones, throughout; "foreign" where they do not explain it, or there are none;
    else "doubtful", naming the words that are the least borne out."""
    weakest, stretch = _weakest_stretch(evidence.words)
    weak_words = [
        word for word in evidence.words if len(word.word) > 2 and word.support < _SURE_WORD
    ]
    doubtful = " ".join(word.word for word in weak_words or stretch)
    trust, reason = "doubtful", f"Heard unclearly: “{doubtful}”."
    if not evidence.words:
        trust, reason = "foreign", "No words of charting."
    elif evidence.support < _FOREIGN_SUPPORT or weakest < _FOREIGN_WEAKEST:
        trust, reason = "foreign", "It does not sound like charting."
    elif not evidence.is_sentence:
        trust, reason = "doubtful", "The end of it was not understood."
    elif evidence.covered < _LEAST_COVERED:
        trust, reason = "doubtful", "Something more was said."
    elif evidence.support > _SURE_SUPPORT and weakest > _SURE_WEAKEST and not weak_words:
        trust, reason = "sure", ""
    return Hypothesis(
        text=" ".join(word.word for word in evidence.words),
        words=evidence.words,
        score=_score(evidence.support, weakest, trust) if evidence.words else 0.0,
        trust=trust,
        reason=reason or None,
        engine=engine,
    )


def _score(support: float, weakest: float, trust: str) -> float:
    """0.5 where an utterance is barely sure, towards 0 and 1 on either side."""
    margin = min(support - _SURE_SUPPORT, (weakest - _SURE_WEAKEST) / 2)
    score = 1 / (1 + math.exp(-2 * margin))
    return round(score if trust == "sure" else min(score, 0.49), 3)


def _weakest_stretch(words: Sequence[HeardWord]) -> tuple[float, Sequence[HeardWord]]:
    weakest: tuple[float, Sequence[HeardWord]] = (0.0, ())
    for first in range(len(words)):
        end = first + 1
        while end < len(words) and words[end - 1].end_s - words[first].start_s < _STRETCH_S:
            end += 1
        stretch = words[first:end]
        length_s = sum(word.end_s - word.start_s for word in stretch)
        support = sum(word.support * (word.end_s - word.start_s) for word in stretch) / length_s
        if support < weakest[0]:
            weakest = (support, stretch)
    return weakest
