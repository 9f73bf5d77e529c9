"""What became of each utterance, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from dictate.chart.events import (
    Charted,
    Event,
    Happening,
    Heard,
    Outcome,
    Redone,
    Settled,
    Skipped,
    ToothChosen,
    Undone,
)
from dictate.chart.finding import Finding
from dictate.chart.short import value_words
from dictate.session import Doubt, with_followers

SIGN_OF: dict[Outcome, str] = {"charted": "✓", "query": "?", "refused": "✗"}

_ANSWERS = {"confirmed": "confirmed", "rejected": "set aside", "repeated": "said again"}


@dataclass(frozen=True)
class Account:
    """An utterance, what it became or why it did not, and what befell it since."""

    outcome: Outcome
    words: str
    result: str
    since: str | None = None


def latest_accounts(events: Sequence[Event], most: int) -> list[Account]:
    """Return the last utterances, the latest first."""
    groups = [list(group) for _, group in groupby(events, key=lambda event: event.utterance)]
    words = {event.sequence: event.what.text for event in events if isinstance(event.what, Heard)}
    since = _since(events)
    accounts = []
    for group in reversed(groups[-most:]):
        heard = group[0].what
        if isinstance(heard, Heard):
            later = since.get(group[0].sequence)
            result = _result(heard, [event.what for event in group[1:]], words)
            if heard.outcome == "query" and later is None:
                result = "waits for yes or no"
            accounts.append(Account(heard.outcome, heard.text, result, later))
    return accounts


def _since(events: Sequence[Event]) -> dict[int, str]:
    """Return what befell utterances after they were heard, by number."""
    since: dict[int, str] = {}
    for event in events:
        match event.what:
            case Settled(of=number, answer=answer):
                since[number] = _ANSWERS[answer]
            case Undone(of=number):
                since[number] = "taken back"
            case Redone(of=number):
                since.pop(number, None)
    return since


def _result(heard: Heard, happenings: Sequence[Happening], words: Mapping[int, str]) -> str:
    if heard.outcome != "charted":
        return heard.reason or ""
    repairs = f"({heard.reason})" if heard.reason else ""
    return f"{happening_words(happenings, words)} {repairs}".strip()


def happening_words(happenings: Sequence[Happening], words: Mapping[int, str]) -> str:
    """Return what happened; `words` are those of earlier utterances by number."""
    said: list[str] = []
    findings: list[Finding] = []
    tooth = None
    for what in happenings:
        match what:
            case ToothChosen(tooth=chosen):
                tooth = chosen
            case Charted(findings=charted):
                findings += charted
            case Skipped(tooth=skipped):
                said.append(f"{skipped} skipped")
            case Undone(of=number):
                said.append(f"taken back: “{words.get(number, '')}”")
            case Redone(of=number):
                said.append(f"put back: “{words.get(number, '')}”")
            case Settled(of=number, answer="rejected"):
                said.append(f"set aside: “{words.get(number, '')}”")
    return "; ".join([*said, *_by_tooth(findings, tooth)])


def statement_words(statements: Sequence[Mapping[str, Any]]) -> str:
    """Return what statements (plain data, see dictate.chart.plan) would chart."""
    findings: list[Finding] = []
    tooth = None
    for statement in statements:
        if "finding" in statement:
            data = statement["finding"]
            findings.append(Finding(**{**data, "tooth": data["tooth"] or tooth or 0}))
        elif "tooth" in statement:
            tooth = statement["tooth"]
    return "; ".join(_by_tooth(findings, tooth))


def _by_tooth(findings: Sequence[Finding], in_hand: int | None) -> list[str]:
    """Return findings tooth by tooth, then the tooth in hand if nothing was found on it."""
    found: dict[int, list[Finding]] = {}
    for finding in findings:
        found.setdefault(finding.tooth, []).append(finding)
    parts = [f"{tooth}: {', '.join(finding_words(each))}" for tooth, each in found.items()]
    return parts if in_hand is None or in_hand in found else [*parts, f"{in_hand} in hand"]


def finding_words(findings: Sequence[Finding]) -> list[str]:
    """Return findings of one tooth in words, three depths along a side as one: "pocket 3 2 6 mm
    buccal", from mesial to distal."""
    depths = {each.site: each for each in findings if each.kind == "pocket" and each.site}
    words: dict[tuple[str, str | None], str] = {}
    for finding in findings:
        side = (finding.site or "").removeprefix("mesio").removeprefix("disto")
        run = [depths.get(f"{end}{side}") for end in ("mesio", "", "disto")]
        if finding.kind == "pocket" and side and all(run):
            values = " ".join(value_words(each) for each in run if each)
            words.setdefault(("run", side), f"pocket {values} mm {side}")
        else:
            words[finding.kind, finding.site] = finding.words()
    return list(words.values())


def asked_together(doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    """Return the doubts that the next answer settles: the one asked last, with the one that it
    follows and all that follow that one."""
    return with_followers(doubts) if doubts else ()


def teeth_asked(doubts: Sequence[Doubt]) -> frozenset[int]:
    """Return the teeth that open doubts would chart something on."""
    return frozenset(
        statement["finding"]["tooth"]
        for doubt in doubts
        for statement in doubt.heard.statements
        if "finding" in statement and statement["finding"]["tooth"]
    )
