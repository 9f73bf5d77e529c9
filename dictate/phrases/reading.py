"""Read an utterance: its statements, and what could not be understood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from dictate.grammar.spoken import SpokenLanguage, spoken_languages
from dictate.phrases.match import UNCLEAR, Placed, TooManyWaysError, cheapest_paths
from dictate.phrases.normalise import filler_words, spoken_words
from dictate.phrases.repair import Repair, repaired
from dictate.phrases.slots import SITE_SAID_FIRST, Slots
from dictate.phrases.statements import ChooseTeeth, ChooseTooth, Statement, Unclear


@dataclass(frozen=True)
class Part:
    """A statement and the words it was read from: `words[first:end]` of the reading, and those of
    its site, where that was said once for several statements."""

    statement: Statement
    first: int
    end: int
    site_words: tuple[int, int] = (0, 0)

    def has(self, place: int) -> bool:
        """Return whether it was read from the word at a place of the reading."""
        return any(first <= place < end for first, end in ((self.first, self.end), self.site_words))


@dataclass(frozen=True)
class Reading:
    """What an utterance says: its words as spoken, its statements in order, its repairs."""

    words: tuple[str, ...]
    parts: tuple[Part, ...]
    repairs: tuple[Repair, ...] = ()
    ambiguous: bool = False

    @property
    def statements(self) -> tuple[Statement, ...]:
        """The statements in the order in which they were said."""
        return tuple(part.statement for part in self.parts)

    @property
    def is_clear(self) -> bool:
        """Whether every word was understood, and there was one."""
        return bool(self.parts) and not any(
            isinstance(statement, Unclear) for statement in self.statements
        )


def read_utterance(language: SpokenLanguage, text: str) -> Reading:
    """Return the reading of `text`, typed or from an engine.

    What cannot be understood, or means two things, becomes Unclear and is never guessed at.
    """
    spoken = spoken_words(text)
    words, repairs = repaired(spoken, language.words, filler_words())
    unclear = (Part(Unclear(" ".join(spoken)), 0, len(words)),) if words else ()
    try:
        paths = cheapest_paths(language.automaton, words, filler_words())
    except TooManyWaysError:
        return Reading(words, unclear, repairs, ambiguous=True)
    readings = [
        _without_lost_teeth(Reading(words, tuple(_parts(path.tags, words)), repairs))
        for path in paths
    ]
    meanings = {reading.statements for reading in readings}
    if len(meanings) == 1:
        return readings[0]
    return Reading(words, unclear, repairs, ambiguous=len(meanings) > 1)


def read_typed(languages: Sequence[SpokenLanguage], text: str) -> Reading:
    """Return the reading of typed text, which may be said in any part of the visit: the first
    clear reading without a repaired word, else the first clear one, else that in the first of
    `languages`, which is the present part's."""
    readings = [read_utterance(language, text) for language in languages]
    clear = [reading for reading in readings if reading.is_clear]
    as_typed = [reading for reading in clear if not reading.repairs]
    return next(iter((*as_typed, *clear, readings[0])))


def may_name_tooth(text: str) -> bool:
    """Return whether unclear words may have been meant to name a tooth, or several: whether any
    of them can be said in the grammar of teeth."""
    return not _place_words().isdisjoint(spoken_words(text))


@cache
def _place_words() -> frozenset[str]:
    return spoken_languages().words_of("teeth") - filler_words() - {"to"}


def _without_lost_teeth(reading: Reading) -> Reading:
    """Return the reading with all that follows unclear words which may have named a tooth made
    unclear too, up to the next tooth: nobody knows which tooth it belongs to."""
    parts: list[Part] = []
    lost = False
    for part in reading.parts:
        statement = part.statement
        if isinstance(statement, Unclear):
            lost = lost or may_name_tooth(statement.text)
        elif isinstance(statement, ChooseTooth | ChooseTeeth):
            lost = False
        elif lost:
            part = replace(part, statement=Unclear(" ".join(reading.words[part.first : part.end])))
        parts.append(part)
    return replace(reading, parts=tuple(parts))


def _parts(tags: Placed, words: tuple[str, ...]) -> list[Part]:
    parts: list[Part] = []
    slots = Slots()
    site_words = (0, 0)
    for end, tag in tags:
        first = parts[-1].end if parts else 0
        if tag == UNCLEAR:
            if parts and isinstance(parts[-1].statement, Unclear) and parts[-1].end == end - 1:
                first = parts.pop().first
            parts.append(Part(Unclear(" ".join(words[first:end])), first, end))
        elif tag.startswith("!"):
            site = site_words if tag == SITE_SAID_FIRST else (0, 0)
            parts += [Part(statement, first, end, site) for statement in slots.emit(tag[1:])]
        else:
            if tag.startswith("site="):
                site_words = (first, end)
            slots.fill(tag)
    return parts
