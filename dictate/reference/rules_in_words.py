"""The rules of each finding in words: what its row of the table says, and what the chart objects
to when it is tried on."""

from __future__ import annotations

from collections.abc import Iterator

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import FindingKind, finding_kinds
from dictate.chart.observation import NORMAL, Observation, ObservationKind
from dictate.chart.observation_rules import MOST_ML, MOST_MM, objection_to_observation
from dictate.chart.rules import objection_to_finding
from dictate.grammar.spoken import SpokenLanguages
from dictate.reference.spoken_findings import covering_phrases

_TOOTH = 208
"""A tooth of dogs and cats with three roots, to try findings on."""

_INDEX_SCALE = 3

NOT_ON_MISSING = "not on a tooth charted missing"
UNLESS_ROOT = ", unless a root is left"


def finding_rules(row: FindingKind, term: str | None) -> Iterator[str]:
    """Yield the rules of a finding: what its row says, and what the chart objects to."""
    if row.roots > 1:
        yield f"needs {row.roots} roots"
    yield "at a site or of the whole tooth" if row.sited else "of the whole tooth only"
    found = _finding(row.kind, term)
    other = _finding("plaque" if row.kind == "calculus" else "calculus")
    missing, root = _finding("missing"), _finding("retained_root")
    if _objects(found, missing, "impossible"):
        rooted = row.kind != root.kind and not _objects(found, missing, "impossible", root)
        yield NOT_ON_MISSING + (UNLESS_ROOT if rooted else "")
    if _objects(found, other, "impossible"):
        yield "not on a tooth with other findings"
    if _objects(found, _finding("normal"), "ask"):
        yield "asks on a tooth charted normal"
    others = _others(found)
    if asked := [each for each in others if _objects(found, each, "ask")]:
        kept = [str(each.value) for each in others if each not in asked]
        yield "asks before replacing another value" + (f", but {kept[0]}" if kept else "")


def _finding(kind: str, term: str | None = None) -> Finding:
    row = finding_kinds()[kind]
    value = None if row.value == "none" else term or next(iter(row.terms), max(row.least, 1))
    return Finding(tooth=_TOOTH, kind=kind, value=value, unit=row.unit)


def _others(found: Finding) -> list[Finding]:
    """The findings of the same kind with another value: all of its terms, or a number."""
    row = found.row
    values = row.terms or ([] if row.value == "none" else [max(row.least, 1) + 1])
    others = [found.model_copy(update={"value": value}) for value in values]
    return [each for each in others if str(each.value) != str(found.value)]


def _objects(found: Finding, standing: Finding, verdict: str, *others: Finding) -> bool:
    if standing.place == found.place and standing.value == found.value:
        return False
    chart = Chart(species="dog", index_scale=_INDEX_SCALE, findings=(standing, *others))
    objection = objection_to_finding(chart, found)
    return objection is not None and objection.verdict == verdict


def observation_rules(
    languages: SpokenLanguages, row: ObservationKind, term: str | None
) -> Iterator[str]:
    """Yield the rules of an observation: what its row says, and what the chart objects to."""
    if row.paired:
        yield "without a side it is both"
    elif row.places:
        yield "must be placed" if row.placed else "may be placed"
    if row.near_tooth:
        yield "may name a tooth that it lies at"
    if row.size:
        yield f"may carry one or two lengths up to {MOST_MM} mm"
    for looks in (row.colours, row.surfaces):
        if looks:
            yield f"may be {', '.join(looks[:-1])} or {looks[-1]}"
    if row.agents:
        yield f"may carry an agent and a volume up to {MOST_ML} mL; a spoken agent is read back"
    others = _other_observations(row, term)
    asked = [each for each in others if _asks_to_replace(row, term, each)]
    if asked and len(asked) == len(others):
        yield "asks before replacing what stands"
    elif asked:
        yield f"asks before replacing {', '.join(str(each.value) for each in asked)}"
    if len(asked) < len(others):
        yield "may stand beside others of its kind"
    if term == NORMAL and (phrase := covering_phrases(languages).get(row.section)):
        yield f"covered by “{phrase}”"


def _observation(row: ObservationKind, term: str | None) -> Observation:
    value = 1 if row.value == "grade" else term
    return Observation(kind=row.kind, value=value, place=next(iter(row.places), None))


def _other_observations(row: ObservationKind, term: str | None) -> list[Observation]:
    if row.terms:
        return [_observation(row, other) for other in row.terms if other != term]
    change = {"value": 2} if row.value == "grade" else {"size_mm": (1.0,)} if row.size else {}
    return [_observation(row, None).model_copy(update=change)] if change else []


def _asks_to_replace(row: ObservationKind, term: str | None, standing: Observation) -> bool:
    chart = Chart(species="dog", index_scale=_INDEX_SCALE, observations=(standing,))
    objection = objection_to_observation(chart, _observation(row, term))
    return objection is not None and objection.verdict == "ask"
