"""What every speech engine offers, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

from dictate.speech.audio import Samples

NOTE = "note"
"""The context in which any English words are listened for, to be kept as a note and no more."""


@dataclass(frozen=True)
class HeardWord:
    """One word of a hypothesis.

    `start_s` and `end_s` are seconds from the start of the utterance. `support` says how well
    the sound bears the word out, higher is better; its scale is the engine's own (see
    `Hypothesis.engine`).
    """

    word: str
    start_s: float
    end_s: float
    support: float


@dataclass(frozen=True)
class DoubtfulWord:
    """A word of a hypothesis that is in doubt while the rest is not: its place among the words,
    counted from 0, and what may have been said in its place, the likeliest first."""

    place: int
    instead: tuple[str, ...] = ()


@dataclass(frozen=True)
class Hypothesis:
    """What an engine made of one utterance.

    `score` runs from 0 (surely not charting) to 1 (surely these words). `trust` is the engine's
    own judgement: "sure", "doubtful" (the words must be confirmed) or "foreign" (not charting
    speech at all). `reason` is a short sentence where trust is not "sure". Where only some words of
    a "doubtful" hypothesis are in doubt, `doubtful_words` says which; where it is empty, all are.
    """

    text: str
    words: tuple[HeardWord, ...] = ()
    score: float = 0.0
    trust: str = "foreign"
    reason: str | None = None
    engine: str = ""
    alternatives: tuple[str, ...] = field(default=())
    doubtful_words: tuple[DoubtfulWord, ...] = field(default=())


class Recogniser(Protocol):
    """A speech engine: fed with an utterance as it is spoken, answers once it has ended.

    Call `attend` where the part of the visit may have changed, then `start`, `feed` for each
    block (it answers with the words so far), and `finish`.
    A recogniser holds no state from one utterance to the next that changes what a word means.
    """

    name: str

    def attend(self, context: str) -> None:
        """Listen for what can be said in this part of the visit, from the next call on."""
        ...

    def start(self) -> None:
        """Begin an utterance."""
        ...

    def feed(self, samples: Samples) -> str:
        """Take more of the utterance; return the partial words, "" while there are none."""
        ...

    def finish(self, samples: Samples) -> Hypothesis:
        """End the utterance, whose whole audio is `samples` (what was fed), and judge it. Raises
        NotDecodedError where nothing can be made of it, though the next one may be."""
        ...


@runtime_checkable
class Closes(Protocol):
    """A recogniser that is to be told when it is used no more."""

    def close(self) -> None:
        """Give back what it holds."""
        ...


class NotDecodedError(Exception):
    """The engine died or hung each time it was at this utterance."""
