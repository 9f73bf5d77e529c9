"""What may be proposed for each tooth, with the rule and its source. A clinician accepts, changes
or dismisses each: nothing here is advice to an owner or an order."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from dictate.assessment.proposal_conditions import CONDITIONS
from dictate.assessment.tooth import Tooth, teeth_in
from dictate.chart.chart import Chart

ENDING = ": for the clinician to decide."
"""How the text of every proposal ends."""


class ProposalRow(BaseModel):
    """One row of proposals.toml; `depth_mm` is the pocket depth its condition asks about."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    condition: str
    text: str
    source: str
    depth_mm: float | None = None


@dataclass(frozen=True)
class Proposal:
    """What may be done about a tooth, by which rule, and where that comes from."""

    tooth: int
    rule: str
    text: str
    source: str


@cache
def proposal_rows() -> Mapping[str, ProposalRow]:
    """Return the table of proposals by rule, in the order of the file."""
    with (Path(__file__).resolve().parent / "proposals.toml").open("rb") as file:
        return {rule: ProposalRow(**row) for rule, row in tomllib.load(file).items()}


def proposals(chart: Chart) -> tuple[Proposal, ...]:
    """Return what may be proposed for a mouth, by tooth in charting order, then by rule."""
    return tuple(each for tooth in teeth_in(chart) for each in proposals_for(tooth))


def proposals_for(tooth: Tooth) -> tuple[Proposal, ...]:
    """Return what may be proposed for one tooth, in the order of the table."""
    return tuple(
        Proposal(tooth.number, rule, row.text + ENDING, row.source)
        for rule, row in proposal_rows().items()
        if CONDITIONS[row.condition](tooth, row.depth_mm or 0)
    )
