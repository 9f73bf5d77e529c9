"""What cannot be, and what must be asked before it is charted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from dictate.chart.anatomy import is_upper
from dictate.chart.chart import Chart
from dictate.chart.finding import SITES, Finding
from dictate.chart.kinds import FindingKind, finding_kinds


@dataclass(frozen=True)
class Objection:
    """Why something is not charted as it stands: it is "impossible", or one must "ask" first.

    `rule` names the rule in a word or two; `sentence` is for people.
    """

    verdict: Literal["impossible", "ask"]
    rule: str
    sentence: str


def objection_to_tooth(chart: Chart, tooth: int) -> Objection | None:
    """Return what speaks against taking `tooth` in hand (source: the species' tables)."""
    if chart.anatomy.has(tooth):
        return None
    return Objection("impossible", "dentition", f"A {chart.species} has no {tooth}.")


def objection_to_finding(
    chart: Chart, finding: Finding, correcting: bool = False
) -> Objection | None:
    """Return what speaks against charting `finding`: first what is impossible, then what must
    be asked. A correction may replace what stands without being asked."""
    return (
        objection_to_tooth(chart, finding.tooth)
        or _objection_to_kind(finding)
        or _objection_to_value(chart, finding)
        or _objection_to_site(finding)
        or _objection_to_roots(chart, finding)
        or _objection_beside_others(chart, finding, correcting)
        or (None if correcting else _objection_to_replacing(chart, finding))
    )


def impossible(rule: str, sentence: str) -> Objection:
    """Return the objection that something cannot be true, by a rule and in a sentence."""
    return Objection("impossible", rule, sentence)


def _objection_to_kind(finding: Finding) -> Objection | None:
    if finding.kind in finding_kinds():
        return None
    return impossible("finding", f"There is no finding called {finding.kind}.")


def _objection_to_value(chart: Chart, finding: Finding) -> Objection | None:
    row = finding.row
    match row.value:
        case "none":
            fits, allowed = finding.value is None, "no value"
        case "term":
            fits, allowed = str(finding.value) in row.terms, "one of " + ", ".join(row.terms)
        case "grade" | "length" | "percent":
            fits = _within(row, finding.value, chart.index_scale)
            unit = f" {row.unit}" if row.unit else ""
            allowed = f"{row.least} to {row.top(chart.index_scale)}{unit}"
    if fits and finding.unit == row.unit:
        return None
    return impossible("range", f"{row.title} takes {allowed}, not {finding.value}.")


def _within(row: FindingKind, value: int | float | str | None, index_scale: int) -> bool:
    if isinstance(value, str | bool | None) or not math.isfinite(value):
        return False
    if row.value != "length" and value != int(value):
        return False
    return row.least <= value <= row.top(index_scale)


def _objection_to_site(finding: Finding) -> Objection | None:
    if finding.site is None:
        return None
    if not finding.row.sited:
        return impossible("site", f"{finding.row.title} is charted for the whole tooth.")
    if finding.site not in SITES:
        return impossible("site", f"A tooth has no place called {finding.site}.")
    if finding.site.endswith("palatal") and not is_upper(finding.tooth):
        return impossible("site", f"{finding.tooth} is a lower tooth and has no palatal side.")
    return None


def _objection_to_roots(chart: Chart, finding: Finding) -> Objection | None:
    if max(chart.anatomy.root_counts(finding.tooth)) >= finding.row.roots:
        return None
    return impossible("roots", f"{finding.tooth} has one root, so it has no furcation.")


def _objection_beside_others(chart: Chart, finding: Finding, correcting: bool) -> Objection | None:
    others = [each for each in chart.on(finding.tooth) if each.place != finding.place]
    kinds = {each.kind for each in others}
    tooth = finding.tooth
    if "missing" in kinds and not finding.row.may_be_on_missing(kinds):
        return impossible("missing", f"{tooth} is charted missing: it takes no findings.")
    contradicting = [
        each for each in others if not each.row.may_be_on_missing(kinds) and each.kind != "normal"
    ]
    if finding.kind == "missing" and contradicting:
        return impossible("missing", f"{tooth} carries findings, so it is not missing.")
    where = "" if finding.kind == "normal" else " on the radiograph"
    if says_normal(finding) and any(_contradict(each, finding) for each in others):
        return impossible("normal", f"{tooth} carries findings, so it is not normal{where}.")
    if not correcting and any(_contradict(finding, each) for each in others):
        return Objection("ask", "normal", f"{tooth} was charted normal. {finding.words()}?")
    return None


def says_normal(finding: Finding) -> bool:
    """Return whether a finding says that nothing else was found, in the mouth or on the
    radiograph."""
    return finding.kind == "normal" or (finding.kind, finding.value) == ("radiographed", "normal")


def _contradict(found: Finding, normal: Finding) -> bool:
    """Return whether something was found where `normal` says that nothing was: in the same part
    of the visit. The length of a root is no finding against it."""
    if found.kind == "root_length" or says_normal(found) or not says_normal(normal):
        return False
    section = normal.row.section
    unseen = section == "radiographs" and found.kind in ("unerupted", "retained_root")
    return found.row.section == section or unseen


def _objection_to_replacing(chart: Chart, finding: Finding) -> Objection | None:
    standing = chart.at(finding)
    if standing is None or standing.value in (finding.value, finding.row.vague):
        return None
    return Objection(
        "ask", "replace", f"{finding.tooth} has {standing.words()}. Replace by {finding.words()}?"
    )


def displaced_by(chart: Chart, finding: Finding) -> tuple[Finding, ...]:
    """Return the findings that go when `finding` is charted: the one at the same place, and what
    says "normal" of the same tooth where something else is found."""
    return tuple(
        each
        for each in chart.on(finding.tooth)
        if each.place == finding.place or _contradict(finding, each)
    )
