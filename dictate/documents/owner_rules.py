"""The rules of the owner's sheet (owner_words.toml), and what each of them finds in a chart."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal, NamedTuple

from pydantic import BaseModel, ConfigDict

from dictate.assessment.assessment import Assessment
from dictate.assessment.tooth import charting_order
from dictate.chart.anatomy import is_upper
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.observation import NORMAL, Observation

CONDITIONS = (
    "always",
    "treated",
    "extracted",
    "upper_extracted",
    "sutured",
    "deep_cleaned",
    "disease",
    "mass",
    "agreed",
)
"""What advice may depend on, by the names that owner_words.toml uses."""

_NO_TREATMENT = frozenset({"referred", "probed"})


class _Row(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Sentence(_Row):
    """What is said of findings (see owner_words.toml)."""

    one: str
    many: str
    source: str
    kinds: dict[str, tuple[int | str, ...]] = {}
    seen: dict[str, tuple[int | str, ...]] = {}
    stages: tuple[int, ...] = ()
    unless: tuple[str, ...] = ()
    listed: bool = True
    first: bool = False


class Advice(_Row):
    """What is advised where one of `when` holds."""

    when: tuple[str, ...]
    text: str
    source: str


class Unsaid(_Row):
    """Kinds of finding and of observation of which nothing is said to an owner."""

    kinds: tuple[str, ...]
    seen: tuple[str, ...]


class Rules(_Row):
    """All of owner_words.toml, in the order of the file."""

    found: dict[str, Sentence]
    done: dict[str, Sentence]
    unsaid: Unsaid
    watch: dict[str, Advice]
    call: dict[str, Advice]
    care: dict[str, Advice]
    next: dict[str, Advice]


class Match(NamedTuple):
    """What a sentence is about: its teeth in charting order, and the places beside the teeth."""

    name: str
    sentence: Sentence
    teeth: tuple[int, ...]
    seen: tuple[Observation, ...]


@cache
def owner_rules() -> Rules:
    """Return the rules of the file."""
    path = Path(__file__).resolve().parent / "owner_words.toml"
    return Rules.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))


def matches(chart: Chart, found: Assessment, part: Literal["found", "done"]) -> list[Match]:
    """Return the sentences that hold, each with its teeth and observations, in the order of the
    file."""
    rules: dict[str, Sentence] = getattr(owner_rules(), part)
    staged = {stage.tooth: stage.stage for stage in found.stages}
    held = []
    for name, rule in rules.items():
        teeth = {each.tooth for each in chart.findings if _is_about(rule, each)}
        teeth |= {tooth for tooth, stage in staged.items() if stage in rule.stages}
        teeth -= {each.tooth for each in chart.findings if each.kind in rule.unless}
        seen = tuple(each for each in chart.observations if _is_of(rule, each))
        if teeth or seen:
            held.append(Match(name, rule, charting_order(chart, teeth), seen))
    return held


def conditions(chart: Chart, found: Assessment) -> frozenset[str]:
    """Return which of `CONDITIONS` hold."""
    kinds = {each.kind for each in chart.findings}
    treated = {
        each.kind
        for each in chart.findings
        if each.row.section == "treatment" and each.kind not in _NO_TREATMENT
    }
    seen = {each.kind for each in chart.observations}
    holds = {
        "always": True,
        "treated": bool(treated) or "block" in seen,
        "extracted": "extracted" in kinds,
        "upper_extracted": any(
            each.kind == "extracted" and is_upper(each.tooth) for each in chart.findings
        ),
        "sutured": "sutured" in kinds,
        "deep_cleaned": "root_planed" in kinds,
        "disease": any(match.sentence.listed for match in matches(chart, found, "found")),
        "mass": "mass" in seen,
        "agreed": any(not step.answered_by for step in found.plan),
    }
    return frozenset(name for name in CONDITIONS if holds[name])


def _is_about(rule: Sentence, finding: Finding) -> bool:
    values = rule.kinds.get(finding.kind)
    return values is not None and (not values or finding.value in values)


def _is_of(rule: Sentence, observation: Observation) -> bool:
    values = rule.seen.get(observation.kind)
    if values is None or observation.value == NORMAL:
        return False
    return not values or observation.value in values
