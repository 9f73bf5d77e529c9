"""What is read from outside: JSON alone, of bounded size and depth, with nothing in it twice."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from json import loads
from pathlib import Path
from typing import Any, NoReturn

from dictate.chart.case import shown
from dictate.errors import DictateError
from dictate.exchange.codes import plain
from dictate.text_file import read_text_file

MOST_BYTES = 30_000_000
"""A whole visit is half a million; an attached page may add most of this."""

MOST_DEPTH = 40
"""A bundle of ours is 12 deep."""

MOST_PARTS = 1_000_000
"""Brackets and commas; a whole visit has some ten thousand. More would fill the memory."""

MOST_ENTRIES = 5_000
"""A whole visit has some hundreds."""


def read_text(path: Path) -> str:
    """Return the text of a file. Raises DictateError when it is none, too large, or not UTF-8."""
    most = f"{MOST_BYTES // 1_000_000} MB"
    too_large = f"larger than {most}: no record is so large, give another file."
    return read_text_file(path, MOST_BYTES, too_large, "give a JSON file")


def plain_json(text: str) -> Any:
    """Return JSON as plain data, fractions as Decimal.

    Raises DictateError, to follow the name of a file, for what is no JSON, is nested too deep,
    has too many parts, names something twice, or holds a number that JSON does not have.
    """
    if sum(text.count(sign) for sign in "[{,") > MOST_PARTS:
        raise DictateError("has too many parts to be a record: give another file.")
    try:
        data = loads(
            text,
            parse_float=Decimal,
            parse_constant=_no_number,
            object_pairs_hook=_once_each,
        )
    except (ValueError, RecursionError) as error:
        raise DictateError("is not a JSON file, or is damaged: use another copy.") from error
    for depth, _ in _parts(data):
        if depth > MOST_DEPTH:
            raise DictateError("is nested too deep to be a record: give another file.")
    return data


def check_words(data: Any) -> None:
    """Raise DictateError where a word or a name in data holds what would not be seen."""
    for _, part in _parts(data):
        words = [*part, part] if isinstance(part, dict) else [part]
        for word in words:
            if isinstance(word, str) and plain(word) != word:
                raise DictateError(
                    f"holds control or otherwise unseen characters, in {shown(word)}: "
                    "take them out where it was made."
                )


def _parts(data: Any) -> Iterator[tuple[int, Any]]:
    """Yield every part of data with its depth."""
    waiting = [(0, data)]
    while waiting:
        depth, part = waiting.pop()
        yield depth, part
        if depth > MOST_DEPTH:
            continue
        inner = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
        waiting += ((depth + 1, each) for each in inner)


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table = dict(pairs)
    if len(table) != len(pairs):
        raise ValueError("a name stands twice")
    return table


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a number of JSON")
