"""Whether an utterance was charting at all, and which of its words are in doubt."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.speech.recogniser import Hypothesis

WORTH_ANOTHER_LOOK = -5.0
"""An utterance with less support than this is hardly charting, whatever its words."""


@dataclass(frozen=True)
class WordEvidence:
    """A word of the grammar's best sentence over start_s..end_s of the utterance (s).

    `support` is the log likelihood per frame of the sound under the word less that under free
    phones: 0 is as good as it gets, charting lies around -3.
    """

    word: str
    start_s: float
    end_s: float
    support: float


@dataclass(frozen=True)
class Evidence:
    """What two decodings of one utterance say.

    `support` is the mean over all frames of speech, as in WordEvidence; `covered` the share of
    the frames in which free phones hear speech that the words cover; `speech_s` the length of
    all speech in s; `is_sentence` whether the words are a whole sentence of the grammar.
    """

    words: tuple[WordEvidence, ...]
    is_sentence: bool
    support: float
    covered: float
    speech_s: float


def judge(evidence: Evidence, engine: str) -> Hypothesis:
    """..."""
    return Hypothesis("")
