"""Charting sentences as an examiner words them, drawn at random, with what is to be charted.

What is wanted of a sentence is what typing it charts: typing leaves nothing to be heard wrongly.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from random import Random
from typing import Any, Literal

from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.session.session import Session

Part = Literal["tuning", "testing"]
PARTS: tuple[Part, ...] = ("tuning", "testing")

_DIGITS = "zero one two three four five six seven eight nine ten eleven".split()
_SIDES = {"upper": ("buccal", "palatal"), "lower": ("buccal", "lingual")}
_FRONT_SIDES = {"upper": ("labial", "palatal"), "lower": ("labial", "lingual")}


@dataclass(frozen=True)
class Sentence:
    """What is said, with commas where one pauses, in the mouth of a species, and the findings that
    are to stand in the end, as records hold them."""

    text: str
    species: str
    findings: tuple[dict[str, Any], ...]


def part_of(text: str) -> Part:
    """Return the part that a text belongs to: half of all texts each, the same every time."""
    return PARTS[zlib.crc32(text.encode()) % 2]


def sentences(part: Part, count: int, seed: int = 1) -> list[Sentence]:
    """Return sentences of a part, no two alike."""
    found: dict[str, Sentence] = {}
    for text, species in _drawn(Random(f"{part} {seed}")):
        if part_of(text) == part and text not in found:
            wanted = typed(text, species)
            if wanted is not None:
                found[text] = Sentence(text, species, tuple(wanted))
        if len(found) == count:
            break
    return list(found.values())


def blank(species: str) -> Session:
    """Return a session on a mouth in which nothing is charted yet."""
    case = Case(id="said", species=species, opened=datetime(2026, 5, 4, tzinfo=UTC))
    return Session(case, spoken_languages())


def typed(text: str, species: str) -> list[dict[str, Any]] | None:
    """Return the findings that a typed text charts, None where the chart asks or refuses."""
    session = blank(species)
    outcome = session.type_text(text).outcome
    return [each.model_dump() for each in session.chart.findings] if outcome == "charted" else None


def _drawn(random: Random) -> Iterator[tuple[str, str]]:
    while True:
        species = random.choices(("dog", "cat"), (3, 1))[0]
        anatomy = blank(species).chart.anatomy
        tooth = random.choice(anatomy.permanent_teeth)
        count = random.choices((1, 2, 3), (5, 4, 1))[0]
        kinds = random.sample(_FINDINGS, count)
        yield ", ".join([_named(tooth, random), *(each(tooth, random) for each in kinds)]), species


def _named(tooth: int, random: Random) -> str:
    quadrant, position = divmod(tooth, 100)
    late = position >= 10
    words = (
        _DIGITS[position] if late else f"{random.choice(('oh', 'oh', 'zero'))} {_DIGITS[position]}"
    )
    prefix = random.choice(("", "", "", "tooth "))
    return f"{prefix}{_DIGITS[quadrant]} {words}"


def _jaw(tooth: int) -> str:
    return "upper" if tooth // 100 in (1, 2) else "lower"


def _site(tooth: int, random: Random) -> str:
    sides = (_FRONT_SIDES if tooth % 100 <= 4 else _SIDES)[_jaw(tooth)]
    side = random.choice(sides)
    joined = random.choice((f"mesio {side}", f"disto {side}"))
    return random.choices((side, "mesial", "distal", joined), (4, 2, 2, 2))[0]


def _index(tooth: int, random: Random) -> str:
    word = random.choice(("calculus", "calculus", "tartar", "plaque", "gingivitis", "gingivitis"))
    grade = random.choice(("one", "two", "three"))
    return random.choices((f"{word} {grade}", f"{word} grade {grade}", f"no {word}"), (8, 1, 1))[0]


def _mobility(tooth: int, random: Random) -> str:
    return f"mobility {random.choice(('one', 'two', 'three'))}"


def _furcation(tooth: int, random: Random) -> str:
    return f"furcation {random.choice(('one', 'two', 'three'))}"


def _depth(tooth: int, random: Random) -> str:
    depth = _DIGITS[random.randint(2, 9)] + random.choice(("", "", " millimeters"))
    site = _site(tooth, random)
    return random.choice((f"pocket {depth} {site}", f"{site} pocket {depth}", f"pocket {depth}"))


def _recession(tooth: int, random: Random) -> str:
    depth = _DIGITS[random.randint(1, 6)]
    side = (_FRONT_SIDES if tooth % 100 <= 4 else _SIDES)[_jaw(tooth)]
    return random.choice((f"recession {depth}", f"recession {depth} {random.choice(side)}"))


def _run(tooth: int, random: Random) -> str:
    side = random.choice((_FRONT_SIDES if tooth % 100 <= 4 else _SIDES)[_jaw(tooth)])
    depths = " ".join(_DIGITS[random.randint(1, 6)] for _ in range(3))
    return f"{side} {depths}"


def _stated(tooth: int, random: Random) -> str:
    return random.choice(
        (
            "missing",
            "complicated crown fracture",
            "uncomplicated crown fracture",
            "enamel fracture",
            "root fracture",
            "attrition",
            "abrasion",
            "caries",
            "enamel defect",
            "discolored",
            "pulp exposed",
            "draining tract",
            "bleeding on probing",
            "supernumerary",
            "retained root",
            "unerupted",
            "rotated",
            "crowded",
            "normal",
            "resorption stage two",
            "resorption stage three",
        )
    )


_FINDINGS = (_index, _index, _mobility, _furcation, _depth, _depth, _recession, _run, _stated)
