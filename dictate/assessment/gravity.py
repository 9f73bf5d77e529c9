"""How grave a tooth looks, for the eye: which teeth to look at first.

The scale is our own (rows in gravity.toml): it orders a screen, it is no clinical grade, and it is
no part of a record. A tooth is as grave as the gravest of its findings, or as its periodontal
stage where that is graver.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Literal, get_args

from pydantic import BaseModel, ConfigDict

from dictate.assessment.staging import stage_at_furcation, stage_at_percent, stage_of_tooth
from dictate.assessment.tooth import EXTRACTED, Tooth, number_of
from dictate.chart.anatomy import Anatomy
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.short import value_words

Gravity = Literal["minor", "moderate", "severe"]
GRAVITIES: tuple[Gravity, ...] = get_args(Gravity)
"""The gravities, the least first."""

ToothState = Literal["untouched", "skipped", "normal", Gravity, "missing", "extracted"]
"""What can be told of a tooth at a glance. "untouched": not examined yet; "skipped": passed over
and not examined since; "normal": examined, and nothing beyond normal charted so far."""


class GravityRow(BaseModel):
    """How grave a kind of finding is; the first comment of gravity.toml says what fields mean."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    source: str
    over: tuple[float, ...] = ()
    beyond_normal: bool = False
    minor: tuple[str, ...] = ()
    moderate: tuple[str, ...] = ()
    severe: tuple[str, ...] = ()
    always: Gravity | None = None
    staged: Literal["percent", "furcation"] | None = None

    def of_term(self, term: str) -> Gravity | None:
        """Return the gravity of a term, None of one that has none."""
        return next((each for each in GRAVITIES if term in getattr(self, each)), None)


class _Stages(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    source: str
    minor: tuple[int, ...]
    moderate: tuple[int, ...]
    severe: tuple[int, ...]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    stages: _Stages
    kinds: dict[str, GravityRow]


@cache
def _table() -> _Table:
    with (Path(__file__).resolve().parent / "gravity.toml").open("rb") as file:
        return _Table.model_validate(tomllib.load(file))


def gravity_rows() -> dict[str, GravityRow]:
    """Return the rows of the table by kind of finding."""
    return _table().kinds


def gravity_of_stage(stage: int) -> Gravity | None:
    """Return the gravity of a periodontal stage 0 to 4, None of 0."""
    return next((each for each in GRAVITIES if stage in getattr(_table().stages, each)), None)


def rank(gravity: Gravity | None) -> int:
    """Return 0 for none, then 1 to 3."""
    return 0 if gravity is None else GRAVITIES.index(gravity) + 1


def gravity_of_finding(anatomy: Anatomy, finding: Finding) -> Gravity | None:
    """Return the gravity of a finding on an animal of that anatomy, None where it has none."""
    row = gravity_rows().get(finding.kind)
    if row is None:
        return None
    if row.always:
        return row.always
    value = number_of(finding)
    if row.over or row.staged:
        return None if value is None else _of_number(row, value, anatomy)
    return row.of_term(value_words(finding))


def _of_number(row: GravityRow, value: float, anatomy: Anatomy) -> Gravity | None:
    if row.staged == "percent":
        return gravity_of_stage(stage_at_percent(value))
    if row.staged == "furcation":
        return gravity_of_stage(stage_at_furcation(value))
    beyond = value - anatomy.normal_probing_depth_mm.most if row.beyond_normal else value
    exceeded = sum(beyond > bound for bound in row.over)
    return GRAVITIES[exceeded - 1] if exceeded else None


def gravity_on(chart: Chart, tooth: int) -> Gravity | None:
    """Return the gravity of all that is charted on a tooth, None where nothing is beyond normal,
    or nothing is charted."""
    findings = chart.on(tooth)
    found = [gravity_of_finding(chart.anatomy, finding) for finding in findings]
    stage = stage_of_tooth(Tooth(tooth, chart.anatomy, findings))
    return max((*found, gravity_of_stage(stage.stage) if stage else None), key=rank)


def tooth_state(chart: Chart, tooth: int) -> ToothState:
    """Return what can be told of a tooth at a glance. One that was not examined stays untouched or
    skipped, whatever a radiograph showed: its `gravity_on` tells that."""
    return state_with(chart, tooth, gravity_on(chart, tooth))


def state_with(chart: Chart, tooth: int, gravity: Gravity | None) -> ToothState:
    """Return the state of a tooth whose `gravity_on` is known."""
    findings = chart.on(tooth)
    kinds = {finding.kind for finding in findings}
    if EXTRACTED in kinds:
        return "extracted"
    if not any(finding.row.section == "charting" for finding in findings):
        skipped = tooth in chart.skipped and not chart.place_examined(tooth)
        return "skipped" if skipped else "untouched"
    return "missing" if "missing" in kinds else gravity or "normal"
