"""Pronunciations of words, in the phones of the CMU Pronouncing Dictionary (ARPABET).

They come from grammars/pronunciations.txt, from the general dictionary inside PocketSphinx's
package, and from the user's own two files in the data folder (docs/words.md): pronunciations.txt,
ways to say words, and words.txt, other words for those that can be said.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TypeAlias

from dictate.errors import DictateError
from dictate.grammar.jsgf import GrammarError

PHONES = frozenset(
    """AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH
    UH UW V W Y Z ZH""".split()
)
"""Source: The CMU Pronouncing Dictionary, its list of 39 phonemes."""

OWN_WAYS = "pronunciations.txt"
OWN_WORDS = "words.txt"
"""The user's own files, in the data folder."""

Ways: TypeAlias = dict[str, tuple[str, ...]]
"""By word: the ways to say it, each its phones with spaces between."""

_WORD = re.compile(r"[a-z][a-z'-]*")
_STRESSED = re.compile(r"([A-Z]{2})[012]")
_ANOTHER_WAY = re.compile(r"\(\d+\)$")


@dataclass(frozen=True)
class _Line:
    """A line that says something: where it stands, and its parts."""

    path: Path
    number: int
    parts: tuple[str, ...]

    def wrong(self, sentence: str) -> GrammarError:
        return GrammarError(f"{self.path} line {self.number}: {sentence}")


def read_pronunciations(path: Path) -> Ways:
    """Return the pronunciations by word of a file with one a line: the word, then its phones.

    A word may stand on several lines. "#" begins a comment; the numbers of stress that the CMU
    dictionary puts after vowels are passed over. Raises GrammarError for a line with no phones or
    with one that is not in PHONES, and for a file that cannot be read.
    """
    found: Ways = {}
    for line in _lines(path):
        word, way = _word_and_phones(line)
        found[word] = (*found.get(word, ()), way)
    return found


def general_pronunciations(words: Collection[str]) -> Ways:
    """Return how the general dictionary inside PocketSphinx's package says those of `words` that
    it has. Raises DictateError where it is missing."""
    if not words:
        return {}
    dictionary = _general_dictionary()
    return {word: dictionary[word] for word in words if word in dictionary}


@cache
def _general_dictionary() -> Ways:
    try:
        from pocketsphinx import get_model_path
    except ImportError as error:
        raise DictateError("PocketSphinx is missing: install dictate again.") from error
    path = Path(get_model_path("en-us")) / "cmudict-en-us.dict"
    found: Ways = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        entry, _, phones = line.partition(" ")
        word = _ANOTHER_WAY.sub("", entry)
        found[word] = (*found.get(word, ()), phones)
    return found


def all_ways(words: Collection[str], stated: Mapping[str, tuple[str, ...]]) -> Ways:
    """Return every way to say each of `words`: those `stated`, else those of the general
    dictionary. A word that neither has is left out."""
    return general_pronunciations(words) | {w: stated[w] for w in words if w in stated}


def with_own_words(built_in: Ways, words: Collection[str], folder: Path) -> Ways:
    """Return `built_in` with what the user's own files in `folder` add to it.

    `words` are all that can be said. A line adds one way to say one of them, and the ways that it
    had stay, be they built in or the general dictionary's. Another word becomes a way to say the
    word it stands for: it is heard wherever that is heard, and the record has the trade's term.

    Raises GrammarError, with the file, the line and what to do, where a line is not in its form,
    where no phrase has its word, and where it would make two words sound the same.
    """
    sounds = _own_sounds(folder)
    others = other_words(words, folder)
    added = [(line, word, way) for line, word, way in sounds if word in words]
    for line, word, _ in sounds:
        if word not in words and word not in others:
            raise line.wrong(f"no phrase has the word “{word}”; put it right or take it out.")
    for other, (line, word) in others.items():
        own = tuple(way for _, each, way in sounds if each == other)
        ways = own or general_pronunciations((other,)).get(other, ())
        if not ways:
            raise line.wrong(f"write in {folder / OWN_WAYS} how “{other}” sounds.")
        added += [(line, word, way) for way in ways]
    if not added:
        return built_in
    known = all_ways(words, built_in)
    for line, word, way in added:
        alike = next((o for o, ways in known.items() if o != word and way in ways), None)
        if alike:
            raise line.wrong(f"“{word}” would sound just like “{alike}”; take the line out.")
        known[word] = tuple(dict.fromkeys((*known.get(word, ()), way)))
    return built_in | {word: known[word] for _, word, _ in added}


def other_words(words: Collection[str], folder: Path) -> dict[str, tuple[_Line, str]]:
    """Return the user's other words in `folder`, each with its line and the word, one of `words`,
    that it stands for. Raises GrammarError as `with_own_words` does."""
    found: dict[str, tuple[_Line, str]] = {}
    for line in _lines(folder / OWN_WORDS):
        other, _, word = (part.strip() for part in " ".join(line.parts).lower().partition("="))
        if not _WORD.fullmatch(other) or not _WORD.fullmatch(word):
            raise line.wrong("write it as other word = word, such as: niner = nine")
        if word not in words:
            raise line.wrong(
                f"no phrase has the word “{word}”; write one of docs/spoken_phrases.md."
            )
        if other in words or other in found:
            raise line.wrong(f"“{other}” can be said already; take the line out.")
        found[other] = (line, word)
    return found


def _own_sounds(folder: Path) -> list[tuple[_Line, str, str]]:
    """Return each line of the user's pronunciations with its word and its phones."""
    return [(line, *_word_and_phones(line)) for line in _lines(folder / OWN_WAYS)]


def _word_and_phones(line: _Line) -> tuple[str, str]:
    word = line.parts[0].lower()
    phones = [_STRESSED.sub(r"\1", part.upper()) for part in line.parts[1:]]
    if unknown := [phone for phone in phones if phone not in PHONES]:
        raise line.wrong(f"{unknown[0]} is no phone; use those of ARPABET, such as M IY Z IY AH L.")
    if not phones:
        raise line.wrong(f"write after {word} how it sounds, such as M IY Z IY AH L.")
    return word, " ".join(phones)


def _lines(path: Path) -> Iterator[_Line]:
    """Yield the lines of a file that say something; of no file, none."""
    try:
        # Some editors begin a file with a mark of its encoding.
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(f"{path} cannot be read: save it as a text file in UTF-8.") from error
    for number, line in enumerate(text.splitlines(), start=1):
        if parts := tuple(line.split("#")[0].split()):
            yield _Line(path, number, parts)
