"""What became of an utterance, in words to be spoken: short, and numbers as the trade says them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dictate.chart.events import Heard
from dictate.phrases.normalise import spoken_words
from dictate.session.statement_data import MOVES
from dictate.session.statement_words import statement_in_words

_MOST_TEETH = 3
"""The same on more teeth than this is told with their number, not one by one."""

_MOST_ALTERNATIVES = 2
_ANSWERS_IN_WORDS = ("left", "note")
"""Commands whose answer is their reason."""


def outcome_in_words(heard: Heard, alternatives: Sequence[str] = ()) -> str:
    """Return what is said of an utterance: "two oh eight, pocket five"; of a doubt what is asked:
    "did you say …, or …?" where it may have been something else: what it could be answered to be,
    else what the engine heard as `alternatives`. "" where nothing need be said."""
    match heard.outcome:
        case "query":
            return _question(heard, alternatives)
        case "refused":
            return f"not charted. {in_spoken_words(heard.reason or '')}"
        case _:
            return _charted(heard)


def in_spoken_words(text: str) -> str:
    """Return text as it is spoken: 208 is "two oh eight", 14 mm "fourteen millimeters"."""
    return " ".join(spoken_words(text))


def _question(heard: Heard, alternatives: Sequence[str]) -> str:
    if heard.alternatives:
        said = _readings(heard)
        return f"did you say {', or '.join(said)}?"
    if heard.part_of is not None:
        alternatives = ()
    others = [each for each in dict.fromkeys(alternatives) if each and each != heard.text]
    if heard.text and others:
        said = [in_spoken_words(each) for each in (heard.text, *others[:_MOST_ALTERNATIVES])]
        return f"did you say {', or '.join(said)}?"
    words = _statements(heard.statements)
    return f"{words}?" if words else in_spoken_words(heard.reason or "Is this right?")


def _readings(heard: Heard) -> list[str]:
    """Return what may have been said, each in words; a tooth that was named before is not named
    again."""
    first = _statements(heard.statements)
    found = (each.get("finding") or {} for each in heard.statements)
    chosen = any(each["statement"] in ("tooth", "teeth", *MOVES) for each in heard.statements)
    teeth = {each["tooth"] for each in found if each}
    tooth = next(iter(teeth)) if len(teeth) == 1 and not chosen else None
    return [first, *(_statements(each.statements, tooth) for each in heard.alternatives)]


def _charted(heard: Heard) -> str:
    kinds = [each["statement"] for each in heard.statements]
    if kinds == ["noted"]:
        return "note kept"
    if len(kinds) == 1 and kinds[0] in _ANSWERS_IN_WORDS:
        return in_spoken_words(heard.reason or "")
    return _statements(heard.statements) or in_spoken_words(heard.text)


def _statements(statements: Sequence[Mapping[str, Any]], tooth: int | None = None) -> str:
    """Return statements in words; a tooth is named where another one was before it, at first
    `tooth`."""
    parts: list[str] = []
    for each in _together(_depths_together(statements)):
        finding = each.get("finding")
        if each["statement"] == "unclear":
            continue
        if finding is None:
            tooth = each.get("tooth", tooth)
            named = str(tooth) if each["statement"] == "tooth" else statement_in_words(each)
            parts.append(in_spoken_words(named))
            continue
        if finding["tooth"] not in (None, tooth):
            tooth = finding["tooth"]
            parts.append(in_spoken_words(str(tooth)))
        parts.append(_finding(finding))
        if "teeth" in each:
            parts[-1] += f" on {in_spoken_words(str(each['teeth']))} teeth"
    return ", ".join(part for part in parts if part)


def _finding(finding: Mapping[str, Any]) -> str:
    """Return a finding in words, without its tooth and its unit, which is always the same."""
    said = (str(finding["kind"]).replace("_", " "), finding["value"], finding["site"])
    return " ".join(in_spoken_words(str(each)) for each in said if each is not None)


def _depths_together(statements: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return statements with three depths along a side, from mesial to distal, as one."""
    result: list[Mapping[str, Any]] = []
    waiting = list(statements)
    while waiting:
        three = [each.get("finding") or {} for each in waiting[:3]]
        side = three[1].get("site") if len(three) == 3 else None
        sites = [each.get("site") for each in three]
        same = len({(each.get("kind"), each.get("tooth")) for each in three}) == 1
        if side and same and sites == [f"mesio{side}", side, f"disto{side}"]:
            depths = " ".join(str(each["value"]) for each in three)
            result.append({**waiting[1], "finding": {**three[1], "value": depths}})
            del waiting[:3]
        else:
            result.append(waiting.pop(0))
    return result


def _together(statements: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return statements with what is the same on many teeth as one, without a tooth but with how
    many `teeth` it is on."""
    teeth_of: dict[str, set[int]] = {}
    for each in statements:
        if each.get("finding"):
            teeth_of.setdefault(_finding(each["finding"]), set()).add(each["finding"]["tooth"])
    result: list[Mapping[str, Any]] = []
    told = set()
    for each in statements:
        words = _finding(each["finding"]) if each.get("finding") else ""
        count = len(teeth_of.get(words, ()))
        if count <= _MOST_TEETH:
            result.append(each)
        elif words not in told:
            told.add(words)
            result.append({**each, "finding": {**each["finding"], "tooth": None}, "teeth": count})
    return result
