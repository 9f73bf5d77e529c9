"""Teeth in words for owners, who know no numbers of teeth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from dictate.chart.anatomy import CORNER_NAMES, corner, is_deciduous, tooth_kind

_NAMES = {
    "incisor": "front tooth",
    "canine": "long canine tooth",
    "premolar": "cheek tooth",
    "molar": "back cheek tooth",
}
_ORDER = tuple(_NAMES.values())
_NUMBERS = ("no one two three four five six seven eight nine ten eleven twelve").split()


def number_word(count: int) -> str:
    """Return a number in words, up to twelve: "three"; larger ones in figures."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def counted(count: int, one: str) -> str:
    """Return so many of a thing that ends in tooth or takes an s: "two front teeth"."""
    many = f"{one.removesuffix('tooth')}teeth" if one.endswith("tooth") else f"{one}s"
    return f"{number_word(count)} {one if count == 1 else many}"


def teeth_in_words(teeth: Iterable[int]) -> str:
    """Return which teeth are meant, by corner of the mouth: "upper left: one cheek tooth"."""
    corners: dict[int, Counter[str]] = {}
    for tooth in set(teeth):
        corners.setdefault(corner(tooth), Counter())[_name(tooth)] += 1
    return "; ".join(
        f"{CORNER_NAMES[number]}: {_listed(corners[number])}" for number in sorted(corners)
    )


def _name(tooth: int) -> str:
    name = _NAMES[tooth_kind(tooth)]
    return f"milk {name}" if is_deciduous(tooth) else name


def _listed(names: Counter[str]) -> str:
    ordered = sorted(names, key=lambda name: (_ORDER.index(name.removeprefix("milk ")), name))
    words = [counted(names[name], name) for name in ordered]
    return " and ".join((", ".join(words[:-1]), words[-1])) if len(words) > 1 else words[0]
