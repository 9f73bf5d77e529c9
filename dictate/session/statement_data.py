"""Statements as the plain data that records keep and the command line prints."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from dictate.chart.kinds import finding_kinds
from dictate.phrases.reading import may_name_tooth
from dictate.phrases.statements import (
    ChooseTeeth,
    ChooseTooth,
    Clear,
    Command,
    Found,
    Seen,
    Statement,
    Unclear,
)

MOVES = ("next", "previous", "skip")
"""Words to the program that take another tooth in hand."""

STOP, START = "stop_listening", "start_listening"
SOUNDS_OFF, SOUNDS_ON = "sounds_off", "sounds_on"
SHOW, THEME, LEAVE, PROPOSAL = "show", "theme", "leave", "proposal"
CLOSE, REOPEN = "close", "reopen"

TO_THE_SCREEN = (SHOW, THEME, LEAVE, PROPOSAL)
"""Words to the tool that only the screen can follow."""

TO_THE_TOOL = (STOP, START, SOUNDS_OFF, SOUNDS_ON, *TO_THE_SCREEN)
"""Words to the tool itself, that say nothing about the visit."""

MISSED = "missed"
"""The statement of an utterance whose beginning nobody heard."""


def as_data(statement: Statement) -> dict[str, Any]:
    """Return a statement as the plain data that records keep and the command line prints."""
    match statement:
        case ChooseTooth(tooth, by_name):
            named = {"by_name": True} if by_name else {}
            return {"statement": "tooth", "tooth": tooth, **named}
        case ChooseTeeth():
            return {"statement": "teeth", **_said(statement)}
        case Found(kind, value, site, tooth):
            unit = finding_kinds()[kind].unit
            finding = {"tooth": tooth, "kind": kind, "value": value, "unit": unit, "site": site}
            return {"statement": "finding", "finding": finding}
        case Seen():
            return {"statement": "observation", "observation": _said(statement)}
        case Clear():
            return {"statement": "clear", **asdict(statement)}
        case Command(command, about):
            return {"statement": command, **({"about": about} if about else {})}
        case Unclear(text):
            return {"statement": "unclear", "text": text}


def _said(statement: ChooseTeeth | Seen) -> dict[str, Any]:
    """Return the fields of a statement that were said."""
    return {name: value for name, value in asdict(statement).items() if value not in (None, ())}


def on_tooth(statement: dict[str, Any], tooth: int | None) -> dict[str, Any]:
    """Return a finding with its tooth replaced, any other statement as it is."""
    if "finding" not in statement:
        return statement
    return {**statement, "finding": {**statement["finding"], "tooth": tooth}}


def by_number(statement: dict[str, Any]) -> dict[str, Any]:
    """Return a move along the arch as the tooth that it led to when it was said."""
    if statement["statement"] in MOVES and "tooth" in statement:
        return {"statement": "tooth", "tooth": statement["tooth"]}
    return statement


def moves_on(statements: Iterable[Mapping[str, Any]]) -> bool:
    """Return whether the first tooth that statements take in hand is a move along the arch: which
    one it is depends on the tooth in hand before."""
    kinds = (each["statement"] for each in statements)
    return next((kind in MOVES for kind in kinds if kind in ("tooth", "teeth", *MOVES)), False)


def names_tooth(statements: Iterable[Mapping[str, Any]]) -> bool:
    """Return whether statements take a tooth in hand, or may have been meant to."""
    return any(
        each["statement"] in ("tooth", "teeth", MISSED, *MOVES)
        or (each["statement"] == "unclear" and may_name_tooth(each["text"]))
        for each in statements
    )


def clear(statements: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the statements that were understood."""
    return [each for each in statements if each["statement"] != "unclear"]
