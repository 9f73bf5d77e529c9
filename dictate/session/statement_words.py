"""Statements, and what was observed, in words for people."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from dictate.chart.finding import Finding
from dictate.chart.observation import Observation

READINGS = {2: "second", 3: "third"}
"""The readings of an utterance that are asked about beside the first, by number."""

_ALL, _REST = "all", "rest"
_KINDS_OF_TEETH = ("incisors", "canines", "premolars", "molars")
_PARTS = {"awake": "head and mouth, awake", "soft_tissue": "soft tissue"}
_COMMANDS = {
    "next": "next tooth",
    "previous": "previous tooth",
    "skip": "skip this tooth",
    "correction": "correction of what was said before",
    "left": "what is left?",
    "note": "take a note",
    "stop_listening": "stop listening",
    "start_listening": "start listening",
    "sounds_off": "sounds off",
    "sounds_on": "sounds on",
    "missed": "its beginning was not heard",
    "leave": "leave the program",
    "close": "close the chart as final",
    "reopen": "open the chart again",
}


def statement_in_words(statement: Mapping[str, Any]) -> str:
    """Return a statement (plain data, as records keep it) in words: "tooth 208", "teeth 201 to
    203", "208 pocket 5 mm mesial", "left mandibular lymph node enlarged"."""
    kind = str(statement["statement"])
    return _WORDS.get(kind, _of_command)(statement)


def _of_tooth(statement: Mapping[str, Any]) -> str:
    return f"tooth {statement['tooth']}"


def _of_teeth(statement: Mapping[str, Any]) -> str:
    if statement.get("first"):
        return f"teeth {statement['first']} to {statement['last']}"
    words = str(statement.get("group")).split("_")
    which = "the rest of the" if _REST in words else "all"
    named = [each for each in words if each not in (_ALL, _REST)]
    kinds = [] if any(each in _KINDS_OF_TEETH for each in named) else ["teeth"]
    return " ".join([which, *named, *kinds])


def _of_finding(statement: Mapping[str, Any]) -> str:
    data = statement["finding"]
    tooth = data["tooth"]
    words = Finding(**{**data, "tooth": tooth or 0}).words()
    return f"{tooth} {words}" if tooth else words


def _of_observation(statement: Mapping[str, Any]) -> str:
    return Observation(**statement["observation"]).words()


def _of_context(statement: Mapping[str, Any]) -> str:
    return f"go to: {_part(statement['about'])}"


def _of_dentition(statement: Mapping[str, Any]) -> str:
    return f"{statement['about']} dentition"


def _of_cover(statement: Mapping[str, Any]) -> str:
    return f"{_part(statement['about'])}: all that was not stated is normal"


def _of_clear(statement: Mapping[str, Any]) -> str:
    if "observation" in statement:
        return f"take back {_of_observation(statement)}"
    kind = str(statement.get("kind") or "everything").replace("_", " ")
    where = statement.get("tooth") or "the tooth in hand"
    return f"take back {kind} on {where}"


def _of_unclear(statement: Mapping[str, Any]) -> str:
    return f"not understood: {statement['text']}"


def _of_decision(statement: Mapping[str, Any]) -> str:
    what = statement.get("text") or statement["rule"]
    return f"{statement['decision']} on {statement['tooth']}: {what}"


def _of_choice(statement: Mapping[str, Any]) -> str:
    return f"the {READINGS[int(statement['about'])]}"


def _of_show(statement: Mapping[str, Any]) -> str:
    return f"show {_part(statement['about'])}"


def _of_theme(statement: Mapping[str, Any]) -> str:
    return f"{statement['about']} screen"


def _of_proposal(statement: Mapping[str, Any]) -> str:
    return f"{statement['about']} proposal"


def _of_command(statement: Mapping[str, Any]) -> str:
    kind = str(statement["statement"])
    words = _COMMANDS.get(kind, kind)
    return f"{words} ({statement['tooth']})" if "tooth" in statement else words


def _part(name: str) -> str:
    return _PARTS.get(name, name.replace("_", " "))


_WORDS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "tooth": _of_tooth,
    "teeth": _of_teeth,
    "finding": _of_finding,
    "observation": _of_observation,
    "context": _of_context,
    "dentition": _of_dentition,
    "covered": _of_cover,
    "clear": _of_clear,
    "unclear": _of_unclear,
    "decision": _of_decision,
    "choose": _of_choice,
    "show": _of_show,
    "theme": _of_theme,
    "proposal": _of_proposal,
}
