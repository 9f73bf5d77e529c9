"""What may be proposed for each tooth, with the rule and its source. A clinician accepts, changes
or dismisses each: nothing here is advice to an owner or an order."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

from dictate.assessment.proposal_conditions import CONDITIONS
from dictate.assessment.question_rules import predecessor
from dictate.assessment.tooth import Tooth, teeth_in, tooth_in
from dictate.chart.chart import Chart

ENDING = ": for the clinician to decide."
"""How the text of every proposal ends."""

RADIOGRAPHED = "radiographed"
"""The treatment that a view answers too."""


class ProposalRow(BaseModel):
    """One row of proposals.toml; `depth_mm` is the pocket depth its condition asks about.
    `answered_by` are kinds of treatment, joined by "+" where only all of them together answer;
    they are looked for on the tooth itself or on the deciduous one at its place (`treated`).
    `painless`: no regional block is planned for it. `dentition`: the teeth it is made for, where
    not for all."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    condition: str
    text: str
    source: str
    depth_mm: float | None = None
    answered_by: tuple[str, ...] = ()
    treated: Literal["tooth", "deciduous"] = "tooth"
    painless: bool = False
    dentition: Literal["permanent", "deciduous"] | None = None

    def is_made_for(self, tooth: Tooth) -> bool:
        """Return whether it is to be proposed for a tooth as it was found."""
        of_tooth = "deciduous" if tooth.deciduous else "permanent"
        if self.dentition not in (None, of_tooth):
            return False
        return CONDITIONS[self.condition](tooth, self.depth_mm or 0)


@dataclass(frozen=True)
class Proposal:
    """What may be done about a tooth, by which rule, and where that comes from. `answered_by` are
    the kinds of treatment charted that answer it; one that is answered waits for nobody."""

    tooth: int
    rule: str
    text: str
    source: str
    answered_by: tuple[str, ...] = ()

    @property
    def step(self) -> str:
        """What is proposed, without the words that leave it to the clinician."""
        return self.text.removesuffix(ENDING)


@cache
def proposal_rows() -> Mapping[str, ProposalRow]:
    """Return the table of proposals by rule, in the order of the file."""
    with (Path(__file__).resolve().parent / "proposals.toml").open("rb") as file:
        return {rule: ProposalRow(**row) for rule, row in tomllib.load(file).items()}


def proposals(chart: Chart) -> tuple[Proposal, ...]:
    """Return what may be proposed for a mouth and no treatment has answered, by tooth in charting
    order, then by rule."""
    return tuple(each for each in proposals_made(chart) if not each.answered_by)


def proposals_made(chart: Chart) -> tuple[Proposal, ...]:
    """Return what follows from the findings of a mouth, with what treatment has answered."""
    return tuple(
        Proposal(tooth.number, rule, row.text + ENDING, row.source, _answers(chart, tooth, row))
        for tooth in teeth_in(chart)
        for rule, row in proposal_rows().items()
        if row.is_made_for(tooth)
    )


def _answers(chart: Chart, tooth: Tooth, row: ProposalRow) -> tuple[str, ...]:
    """Return the kinds of treatment on the tooth that answer a row, without doubles."""
    treated = tooth
    if row.treated == "deciduous" and not tooth.deciduous:
        before = predecessor(chart, tooth)
        if before is None:
            return ()
        treated = tooth_in(chart, before)
    together = (answer.split("+") for answer in row.answered_by)
    done = (kinds for kinds in together if all(_was_done(treated, kind) for kind in kinds))
    return tuple(dict.fromkeys(kind for kinds in done for kind in kinds))


def _was_done(tooth: Tooth, treatment: str) -> bool:
    return tooth.radiographed if treatment == RADIOGRAPHED else tooth.has({treatment})
