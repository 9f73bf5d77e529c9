"""Written words as they are spoken: "208 pocket 5mm" is "two oh eight pocket five millimeters"."""

from __future__ import annotations

import re
from functools import cache

from dictate.folders import data_folder
from dictate.grammar.jsgf import GrammarError
from dictate.grammar.pronunciation import other_words
from dictate.grammar.spoken import grammars_folder, spoken_languages

_SMALL = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen"
).split()
_TENS = {2: "twenty", 3: "thirty", 4: "forty", 5: "fifty", 6: "sixty", 7: "seventy"} | {
    8: "eighty",
    9: "ninety",
}
_TOKEN = re.compile(r"[0-9]+\.[0-9]+|[0-9]+|[^\W0-9_]+(?:'[^\W0-9_]+)?|%")


def spoken_words(text: str) -> tuple[str, ...]:
    """Return the words of `text` as they are spoken: lower case, numbers in words, written
    forms (grammars/written_forms.txt) and abbreviations spelled out."""
    words: list[str] = []
    forms = written_forms()
    for token in _TOKEN.findall(text):
        if "0" <= token[0] <= "9":
            words += _number(token)
        else:
            words += forms.get(token) or forms.get(token.lower()) or (token.lower(),)
    return tuple(words)


def _number(token: str) -> list[str]:
    whole, _, fraction = token.partition(".")
    if fraction:
        return [*_number(whole), "point", *(_SMALL[int(digit)] for digit in fraction)]
    number = int(whole)
    if whole == "100":
        return ["one", "hundred"]
    if len(whole) == 3 and whole[0] != "0":
        place = number % 100
        ending = ["oh", _SMALL[place]] if place < 10 else _number(str(place))
        return [_SMALL[number // 100], *ending]
    if len(whole) <= 2 and number < 20:
        return [_SMALL[number]]
    if len(whole) == 2 and number // 10 in _TENS:
        return [_TENS[number // 10], *([_SMALL[number % 10]] if number % 10 else [])]
    return [token]


@cache
def written_forms() -> dict[str, tuple[str, ...]]:
    """Return grammars/written_forms.txt and the user's other words (docs/words.md): by written
    word, the words that are spoken."""
    forms: dict[str, tuple[str, ...]] = {}
    for line in _lines("written_forms.txt"):
        written, equals, spoken = line.partition("=")
        if not equals or not spoken.strip():
            raise GrammarError(f"written_forms.txt: write “{line}” as: written = spoken.")
        forms[written.strip()] = tuple(spoken.split())
    own = other_words(spoken_languages().words, data_folder())
    return {other: (word,) for other, (_, word) in own.items()} | forms


@cache
def filler_words() -> frozenset[str]:
    """Return grammars/filler_words.txt: words that carry no finding."""
    return frozenset(_lines("filler_words.txt"))


def _lines(name: str) -> list[str]:
    text = (grammars_folder() / name).read_text(encoding="utf-8")
    return [line for raw in text.splitlines() if (line := raw.split("#")[0].strip())]
