"""Whether an utterance was charting at all, and which of its words are in doubt.

The bounds were set on the tuning part of tests/benchmarks/recognition.py at a stated cost: a wrong
finding that is charted unasked costs as much as twenty questions about a right one, a finding made
of talk as much as a hundred.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from dictate.speech.recogniser import DoubtfulWord, HeardWord, Hypothesis

_SURE_SUPPORT, _SURE_SUPPORT_OF_CLEAR_SOUND = -4.8, -5.4
_SURE_SUPPORT_IN_NOISE = -4.5
"""The model of noisy sound fits all that is said in noise better, talk too."""
_SURE_SUPPORT_ALONE = -4.65
"""The same where a second look at the sound does not find the same sentence. Clear sound is held to
stricter bounds word by word."""
_SURE_WEAKEST, _SURE_WEAKEST_OF_CLEAR_SOUND = -6.8, -6.2
_SURE_WORD, _SURE_WORD_OF_CLEAR_SOUND = -7.2, -6.5
"""Least support of a single word that is more than a vowel or two. Noise excuses some of what is
missing; in clear sound it is talk that is badly borne out."""
_FOREIGN_SUPPORT = -5.8
_FOREIGN_SUPPORT_ALONE = -5.4
_FOREIGN_WEAKEST = -8.5
_LEAST_COVERED = 0.7
_MOST_CLIPPED = 0.05
"""Of a dictation made too loud, nothing was heard wrongly up to a share of 0.11 of its samples at
the end of the scale, and where 0.17 was, two of 25 utterances were charted as others."""
_STRETCH_S = 0.5
"""Support is compared over stretches of words at least so long (s): a single short word, such
as “oh” between two vowels, has little of its own."""

_CLEAR_MARGIN, _MARGIN_A_SUPPORT = 12.0, 12.0
_CLEAR_MARGIN_OF_CLEAR_SOUND, _MARGIN_A_SUPPORT_OF_CLEAR_SOUND = 8.0, 6.0
_WELL_SUPPORTED = -4.3
"""A rival is clearly behind by a margin of log likelihood, and by so much more for each unit that
the word that was heard is supported worse than well."""

WORTH_ANOTHER_LOOK = _FOREIGN_SUPPORT
"""With less support than this the words do not matter."""

FARTHEST_RIVAL = 40.0
"""A rival whose log likelihood is further behind than this is none."""


@dataclass(frozen=True)
class Rival:
    """A word that may have been said in the place of the one that was heard, counted from 0, and
    by how much (log likelihood) the sound speaks against it. `is_confusable` where the two are
    known to be taken for one another, or their confusion would do harm."""

    place: int
    word: str
    margin: float
    is_confusable: bool = False


@dataclass(frozen=True)
class Evidence:
    """What the decodings of one utterance say.

    The support of a word, and `support` over all frames of speech, is the log likelihood per
    frame of the sound under the words less that under free phones: 0 is as good as it gets,
    charting lies around -3. `words` are the grammar's best sentence; `covered` the share of
    the frames in which free phones hear speech that the words cover; `is_sentence` whether the
    words are a whole sentence of the grammar; `is_clear` whether there is little noise and a wide
    band, `is_noisy` whether there is much noise, `is_steady` whether nothing stands out of it;
    `clipped` is the share of the samples that were too loud.
    `rivals` are words that explain the sound nearly as well as one that was heard. `second_look`
    are the words of the same sound heard as of another voice, where they mean something else.
    """

    words: tuple[HeardWord, ...]
    is_sentence: bool
    support: float
    covered: float
    is_clear: bool = False
    is_noisy: bool = False
    is_steady: bool = False
    clipped: float = 0.0
    rivals: tuple[Rival, ...] = ()
    second_look: tuple[str, ...] | None = None


def judge(evidence: Evidence, engine: str) -> Hypothesis:
    """Return the hypothesis with its trust: "sure" where the words explain the sound nearly as
    well as free phones, throughout, and no other words nearly as well as they; "foreign" where they
    do not explain it, or there are none; else "doubtful", with the words that are in doubt where
    the others are not."""
    trust, reason = _of_the_whole(evidence)
    doubtful = tuple(_doubtful_words(evidence)) if trust == "sure" else ()
    if doubtful:
        trust, reason = "doubtful", _question(evidence, doubtful)
    elif trust == "sure" and evidence.second_look is not None:
        trust, reason = "doubtful", f"Or “{' '.join(evidence.second_look)}”?"
    return Hypothesis(
        text=" ".join(word.word for word in evidence.words),
        words=evidence.words,
        score=_score(evidence, trust) if evidence.words else 0.0,
        trust=trust,
        reason=reason or None,
        engine=engine,
        doubtful_words=doubtful,
    )


def _of_the_whole(evidence: Evidence) -> tuple[str, str]:
    """Return the trust in an utterance as a whole, and why it is not "sure"."""
    weakest, stretch = _weakest_stretch(evidence.words)
    agreed = evidence.second_look is None
    foreign = _FOREIGN_SUPPORT if agreed else _FOREIGN_SUPPORT_ALONE
    if evidence.is_steady:
        return "foreign", "Nothing was said: one sound all along."
    if not evidence.words:
        return "foreign", "No words of charting."
    if evidence.support < foreign or weakest < _FOREIGN_WEAKEST:
        return "foreign", "It does not sound like charting."
    if not evidence.is_sentence:
        return "doubtful", "The end of it was not understood."
    if evidence.covered < _LEAST_COVERED:
        return "doubtful", "Something more was said."
    if evidence.clipped > _MOST_CLIPPED:
        return "doubtful", "It was too loud: turn the input level down."
    bound = _sure_support(evidence)
    sure = bound if agreed else max(bound, _SURE_SUPPORT_ALONE)
    least = _SURE_WEAKEST_OF_CLEAR_SOUND if evidence.is_clear else _SURE_WEAKEST
    if evidence.support < sure or weakest < least:
        return "doubtful", f"Heard unclearly: “{' '.join(word.word for word in stretch)}”."
    return "sure", ""


def _sure_support(evidence: Evidence) -> float:
    if evidence.is_clear:
        return _SURE_SUPPORT_OF_CLEAR_SOUND
    return _SURE_SUPPORT_IN_NOISE if evidence.is_noisy else _SURE_SUPPORT


def _doubtful_words(evidence: Evidence) -> Iterator[DoubtfulWord]:
    """Yield the words in doubt in their order: the weak ones, those with a rival near by, and those
    that a second look at the sound does not find. None where that look finds a sentence that cannot
    be laid beside the first, word by word."""
    instead: dict[int, list[str]] = {}
    least = _SURE_WORD_OF_CLEAR_SOUND if evidence.is_clear else _SURE_WORD
    for place, word in enumerate(evidence.words):
        if len(word.word) > 2 and word.support < least:
            instead[place] = []
    for rival in evidence.rivals:
        if rival.margin < _clear_margin(evidence, rival):
            instead.setdefault(rival.place, []).append(rival.word)
    if evidence.second_look is not None:
        changes = _changes([word.word for word in evidence.words], evidence.second_look)
        if changes is None:
            return
        for place, other in changes:
            others = instead.setdefault(place, [])
            if other not in others:
                others.append(other)
    for place in sorted(instead):
        yield DoubtfulWord(place, tuple(instead[place]))


def _clear_margin(evidence: Evidence, rival: Rival) -> float:
    """Return by how much a rival must be behind: more in noise, and more where the word that was
    heard is badly borne out."""
    badly = max(0.0, _WELL_SUPPORTED - evidence.words[rival.place].support)
    if evidence.is_clear and not rival.is_confusable:
        return _CLEAR_MARGIN_OF_CLEAR_SOUND + _MARGIN_A_SUPPORT_OF_CLEAR_SOUND * badly
    return _CLEAR_MARGIN + _MARGIN_A_SUPPORT * badly


def _changes(words: Sequence[str], others: Sequence[str]) -> list[tuple[int, str]] | None:
    """Return the places where others stand in the places of words; None where words are missing
    from either."""
    found = []
    for what, first, last, other, end in SequenceMatcher(a=words, b=others).get_opcodes():
        if what == "replace" and last - first == end - other:
            found += [(first + step, others[other + step]) for step in range(last - first)]
        elif what != "equal":
            return None
    return found


def _question(evidence: Evidence, doubtful: Sequence[DoubtfulWord]) -> str:
    parts = [
        " or ".join(f"“{word}”" for word in (evidence.words[each.place].word, *each.instead)) + "?"
        for each in doubtful
    ]
    return " ".join(parts)


def _score(evidence: Evidence, trust: str) -> float:
    """0.5 where an utterance is barely sure, towards 0 and 1 on either side."""
    weakest, _ = _weakest_stretch(evidence.words)
    margin = min(evidence.support - _SURE_SUPPORT, (weakest - _SURE_WEAKEST) / 2)
    score = 1 / (1 + math.exp(-2 * margin))
    return round(max(score, 0.5) if trust == "sure" else min(score, 0.49), 3)


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
