"""What happened, or would happen, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from dictate.assessment.proposals import proposal_rows
from dictate.chart.anatomy import Anatomy
from dictate.chart.events import (
    Charted,
    Closed,
    ContextChosen,
    Decided,
    DentitionChosen,
    Happening,
    Noted,
    Observed,
    Redone,
    Reopened,
    Settled,
    Skipped,
    TeethChosen,
    ToothChosen,
    Undone,
)
from dictate.chart.finding import Finding
from dictate.chart.observation import Observation
from dictate.screen.parts import PARTS
from dictate.screen.sections import SECTION_TITLES, observation_names
from dictate.screen.teeth_words import finding_words, teeth_words


@dataclass
class _Told:
    """What is to be told: sentences, findings and what they replaced by tooth, observations."""

    said: list[str] = field(default_factory=list)
    found: dict[int, list[Finding]] = field(default_factory=dict)
    gone: dict[int, list[Finding]] = field(default_factory=dict)
    observed: list[Observed] = field(default_factory=list)
    in_hand: tuple[int, ...] = ()

    def words(self, anatomy: Anatomy) -> str:
        """Return all of it as one line."""
        teeth = _charted_words(self.found, self.gone, anatomy)
        parts = [*self.said, *teeth, *_observed_words(self.observed)]
        if self.in_hand and not self.found.keys() & set(self.in_hand):
            parts.append(_in_hand_words(self.in_hand, anatomy))
        return "; ".join(parts)

    @property
    def only_in_hand(self) -> bool:
        """Whether teeth are taken in hand and nothing else happens."""
        return bool(self.in_hand) and not (self.said or self.found or self.gone or self.observed)

    def take(self, what: Happening, words: Mapping[int, str]) -> None:
        """Take what happened next."""
        match what:
            case ToothChosen(tooth=tooth):
                self.in_hand = (tooth,)
            case TeethChosen(teeth=teeth):
                self.in_hand = teeth
            case Charted(findings=findings, replaced=replaced):
                for finding in findings:
                    self.found.setdefault(finding.tooth, []).append(finding)
                for finding in replaced:
                    self.gone.setdefault(finding.tooth, []).append(finding)
            case Observed():
                self.observed.append(what)
            case _:
                self.said += _sentence(what, words)


def _sentence(what: Happening, words: Mapping[int, str]) -> list[str]:
    match what:
        case Skipped(tooth=tooth):
            return [f"{tooth} skipped"]
        case ContextChosen(context=context):
            return [f"now {PARTS[context].title.lower()}"]
        case DentitionChosen(dentition=dentition):
            return [f"{dentition} dentition"]
        case Noted(tooth=tooth):
            return [f"note on {tooth}" if tooth else "note on the visit"]
        case Decided():
            return [_decided_words(what)]
        case Closed(by=by):
            return [f"closed as final{f' by {by}' if by else ''}"]
        case Reopened():
            return ["opened again: what follows is an addendum"]
        case Undone(of=number):
            return [f"taken back: “{words.get(number, '')}”"]
        case Redone(of=number):
            return [f"put back: “{words.get(number, '')}”"]
        case Settled(of=number, answer="rejected"):
            return [f"set aside: “{words.get(number, '')}”"]
        case _:
            return []


def happening_words(
    happenings: Sequence[Happening], words: Mapping[int, str], anatomy: Anatomy
) -> str:
    """Return what happened; `words` are those of earlier utterances by number."""
    told = _Told()
    for what in happenings:
        told.take(what, words)
    return told.words(anatomy)


def statement_words(statements: Sequence[Mapping[str, Any]], anatomy: Anatomy) -> str:
    """Return what statements (plain data, see dictate.chart.plan) would chart."""
    told = _Told()
    tooth = None
    for statement in statements:
        match statement["statement"]:
            case "finding":
                data = statement["finding"]
                finding = Finding(**{**data, "tooth": data["tooth"] or tooth or 0})
                told.take(Charted(findings=(finding,)), {})
            case "observation":
                observation = Observation(**statement["observation"])
                told.take(Observed(observations=(observation,)), {})
            case "teeth" if statement.get("teeth"):
                told.take(TeethChosen(teeth=tuple(statement["teeth"])), {})
            case "context":
                told.take(ContextChosen(context=statement["about"]), {})
            case "dentition":
                told.take(DentitionChosen(dentition=statement["about"]), {})
            case "close":
                told.take(Closed(by=statement.get("by", "")), {})
            case "covered":
                title = SECTION_TITLES[statement["about"]].lower()
                told.said.append(f"{title}: normal, but for what was said")
            case "clear" if "observation" in statement:
                observation = Observation(**statement["observation"])
                told.take(Observed(observations=(), replaced=(observation,)), {})
            case "clear":
                kind = (statement["kind"] or "all that is charted").replace("_", " ")
                told.said.append(f"{statement['tooth']}: takes back {kind}")
            case _ if statement.get("tooth"):
                tooth = statement["tooth"]
                told.take(ToothChosen(tooth=tooth), {})
    words = told.words(anatomy)
    return f"nothing; {words}" if told.only_in_hand else words


def _charted_words(
    found: Mapping[int, Sequence[Finding]], gone: Mapping[int, Sequence[Finding]], anatomy: Anatomy
) -> list[str]:
    """Return findings tooth by tooth; teeth on which the same was found together."""
    teeth_of: dict[str, list[int]] = {}
    for tooth in dict.fromkeys((*gone, *found)):
        what = ", ".join(finding_words(found.get(tooth, ())))
        before = ", ".join(finding_words(gone.get(tooth, ())))
        if what and before:
            what = f"{what}, instead of {before}"
        teeth_of.setdefault(what or f"taken back: {before}", []).append(tooth)
    return [f"{teeth_words(teeth, anatomy)}: {what}" for what, teeth in teeth_of.items()]


def _in_hand_words(teeth: tuple[int, ...], anatomy: Anatomy) -> str:
    words = teeth_words(teeth, anatomy)
    return f"{words} in hand" if len(teeth) == 1 else f"{words}: {len(teeth)} teeth in hand"


def _observed_words(happenings: Iterable[Observed]) -> list[str]:
    parts: list[str] = []
    for what in happenings:
        said = [each.words() for each in what.observations if not each.covered]
        covered = [(each.kind, each.place) for each in what.observations if each.covered]
        if covered:
            said.append(f"covered as normal: {', '.join(observation_names(covered))}")
        before = ", ".join(each.words() for each in what.replaced)
        if before:
            said = [f"{', '.join(said)}, instead of {before}" if said else f"taken back: {before}"]
        parts += said
    return parts


def _decided_words(decided: Decided) -> str:
    """Return what became of a proposal; what is to be done was said with the decision."""
    match decided.decision:
        case "dismissed":
            row = proposal_rows().get(decided.rule)
            what = row.text if row else decided.rule.replace("_", " ")
            return f"{decided.tooth}, not to be done: {what}"
        case "changed":
            return f"in the plan for {decided.tooth}, as changed"
        case _:
            return f"in the plan for {decided.tooth}"
