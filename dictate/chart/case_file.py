"""A case entered in a file: `--from case.json` or `case.toml`."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from rapidfuzz import fuzz, process

from dictate.chart.case import Case, entered_fields, shown
from dictate.errors import DictateError
from dictate.text_file import read_text_file

MOST_BYTES = 1_000_000
"""No case and no formulary comes near; a recording named by mistake goes beyond."""

SET_BY_DICTATE = ("id", "opened")
CASE_FILE_FIELDS = tuple(field for field in Case.model_fields if field not in SET_BY_DICTATE)
"""What a case file may hold; all of it may be left out."""


def read_case_file(path: Path, opened: datetime | None = None) -> dict[str, Any]:
    """Return the fields of a case that a JSON or TOML file holds, checked, birth dates as dates.

    `opened`, with a time zone, is when the case is opened; now where it is None. Raises
    DictateError, one sentence that names the file, the field and what to do, when the file is of
    another type, cannot be read, is not UTF-8, has a field that no case has or a wrong value.
    """
    values = read_table(path, ("json", "toml"))
    for field in values:
        _check_known(path, field)
    born = values.get("birth_date")
    if isinstance(born, str):
        values["birth_date"] = _day(born)
    try:
        return entered_fields(values, opened or datetime.now(UTC))
    except DictateError as error:
        raise DictateError(f"{path.name}: {error}") from error


def read_table(path: Path, types: tuple[str, ...]) -> dict[str, Any]:
    """Return what a file of one of these types ("json", "toml") holds under its names. Raises
    DictateError when it is of another type, cannot be read, or holds a name twice or none."""
    suffix = path.suffix.lower().lstrip(".")
    if suffix not in types:
        raise DictateError(
            f"{path.name} is no file for this: give one that ends in .{' or .'.join(types)}."
        )
    too_large = "too large to be a list of fields: give another."
    text = read_text_file(path, MOST_BYTES, too_large, "save it again as UTF-8")
    try:
        table = (
            tomllib.loads(text)
            if suffix == "toml"
            else json.loads(text, object_pairs_hook=lambda pairs: _once_each(path, pairs))
        )
    except (ValueError, RecursionError) as error:
        told = isinstance(error, json.JSONDecodeError | tomllib.TOMLDecodeError)
        why = f" ({error})" if told else ""
        raise DictateError(f"{path.name} is not {suffix.upper()}{why}: put it right.") from error
    if not isinstance(table, dict):
        raise DictateError(f"{path.name} holds no names and values: write them between braces.")
    return table


def closest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that is most like this one, None where none is alike."""
    found = process.extractOne(word.lower(), list(known), scorer=fuzz.WRatio, score_cutoff=60)
    return found[0] if found else None


def _once_each(path: Path, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table: dict[str, Any] = {}
    for name, value in pairs:
        if name in table:
            raise DictateError(f"{path.name} has {shown(name)} twice: take one out.")
        table[name] = value
    return table


def _check_known(path: Path, field: str) -> None:
    if field in CASE_FILE_FIELDS:
        return
    if field in SET_BY_DICTATE:
        raise DictateError(f"{path.name}: {field} is set by dictate itself: take it out.")
    alike = closest(field, CASE_FILE_FIELDS)
    remedy = f"write {alike} if you meant that" if alike else "take it out"
    raise DictateError(f"{path.name}: a case has no field {shown(field)}: {remedy}.")


def _day(text: str) -> date | str:
    """Return an ISO 8601 day, or the text as it is for the check to refuse."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return text
