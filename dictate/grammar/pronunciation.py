"""Pronunciations of words, in the phones of the CMU Pronouncing Dictionary (ARPABET)."""

from __future__ import annotations

from pathlib import Path

from dictate.grammar.jsgf import GrammarError

PHONES = frozenset(
    """AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH
    UH UW V W Y Z ZH""".split()
)
"""Source: The CMU Pronouncing Dictionary, its list of 39 phonemes."""


def read_pronunciations(path: Path) -> dict[str, tuple[str, ...]]:
    """Return the pronunciations by word of a file with one a line: the word, then its phones.

    A word may stand on several lines. "#" begins a comment. Raises GrammarError for a line with
    no phones or with one that is not in PHONES.
    """
    found: dict[str, list[str]] = {}
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        word, *phones = line.split("#")[0].split() or [""]
        if not word:
            continue
        if unknown := [phone for phone in phones if phone not in PHONES]:
            raise GrammarError(f"{path} line {number}: {unknown[0]} is no phone; use ARPABET.")
        if not phones:
            raise GrammarError(f"{path} line {number}: write phones after {word}.")
        found.setdefault(word, []).append(" ".join(phones))
    return {word: tuple(ways) for word, ways in found.items()}
