"""All that follows from a visit, in one piece: what is left, stages, questions, proposals, plan."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.assessment.blocks import BlockedTeeth, blocks_for
from dictate.assessment.completeness import Left, whats_left
from dictate.assessment.proposals import Proposal, proposals
from dictate.assessment.questions import Question, questions
from dictate.assessment.staging import PeriodontalStage, stages
from dictate.assessment.summary import MouthSummary, mouth_summary
from dictate.assessment.tooth import charting_order
from dictate.chart.anatomy import quadrant
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.events import Decided


@dataclass(frozen=True)
class DecidedProposal:
    """A proposal and the last decision on it, None where it waits for one."""

    proposal: Proposal
    decided: Decided | None = None

    @property
    def state(self) -> str:
        """ "open", "accepted", "changed" or "dismissed"."""
        return self.decided.decision if self.decided else "open"


@dataclass(frozen=True)
class PlannedStep:
    """What a clinician agreed to do about a tooth, by the rule that proposed it."""

    tooth: int
    text: str
    rule: str
    changed: bool


@dataclass(frozen=True)
class Assessment:
    """What follows from a chart. `plan` has what was agreed, by quadrant; `blocks` the regional
    blocks that would reach its teeth."""

    left: Left
    stages: tuple[PeriodontalStage, ...]
    summary: MouthSummary
    questions: tuple[Question, ...]
    proposals: tuple[DecidedProposal, ...]
    plan: tuple[PlannedStep, ...]
    blocks: tuple[BlockedTeeth, ...]


def assess(case: Case, chart: Chart) -> Assessment:
    """Return what follows from the chart of a case."""
    decisions = {(each.tooth, each.rule): each for each in chart.decisions}
    plan = planned(chart)
    return Assessment(
        left=whats_left(chart),
        stages=stages(chart),
        summary=mouth_summary(chart),
        questions=questions(chart),
        proposals=tuple(
            DecidedProposal(each, decisions.get((each.tooth, each.rule)))
            for each in proposals(chart)
        ),
        plan=plan,
        blocks=blocks_for(case.species, {each.tooth for each in plan}, bool(case.short_nosed)),
    )


def planned(chart: Chart) -> tuple[PlannedStep, ...]:
    """Return what was agreed, by quadrant (1 to 4, deciduous teeth with their side) and then in
    charting order."""
    agreed = [each for each in chart.decisions if each.decision != "dismissed"]
    order = charting_order(chart, {each.tooth for each in agreed})
    steps = [
        PlannedStep(each.tooth, each.text, each.rule, each.decision == "changed")
        for tooth in order
        for each in agreed
        if each.tooth == tooth
    ]
    return tuple(sorted(steps, key=lambda step: (quadrant(step.tooth) - 1) % 4))
