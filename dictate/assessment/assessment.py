"""All that follows from a visit, in one piece: what is left, stages, questions, proposals, plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dictate.assessment.blocks import BlockedTeeth, blocks_for
from dictate.assessment.completeness import Left, whats_left
from dictate.assessment.proposals import ENDING, Proposal, proposal_rows, proposals_made
from dictate.assessment.questions import Question, questions
from dictate.assessment.staging import PeriodontalStage, stages
from dictate.assessment.summary import MouthSummary, mouth_summary
from dictate.assessment.tooth import charting_order, tooth_in
from dictate.chart.anatomy import corner
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.chart.events import Decided


@dataclass(frozen=True)
class DecidedProposal:
    """A proposal and the last decision on it, None where it waits for one. `follows` is false
    where a decision stands but the findings no longer bring the proposal about."""

    proposal: Proposal
    decided: Decided | None = None
    follows: bool = True

    @property
    def state(self) -> str:
        """ "open", "accepted", "changed" or "dismissed"."""
        return self.decided.decision if self.decided else "open"


@dataclass(frozen=True)
class PlannedStep:
    """What a clinician agreed to do about a tooth, by the rule that proposed it. `answered_by`
    are the kinds of treatment charted that answer the proposal: whether what was agreed is done
    with them, a person tells where it was `changed`."""

    tooth: int
    text: str
    rule: str
    changed: bool
    answered_by: tuple[str, ...] = ()


@dataclass(frozen=True)
class Assessment:
    """What follows from a chart. `plan` has what was agreed, by quadrant; `blocks` the regional
    blocks that would reach its teeth, but for those that are extracted by now."""

    left: Left
    stages: tuple[PeriodontalStage, ...]
    summary: MouthSummary
    questions: tuple[Question, ...]
    proposals: tuple[DecidedProposal, ...]
    plan: tuple[PlannedStep, ...]
    blocks: tuple[BlockedTeeth, ...]

    @property
    def decided(self) -> int:
        """How many of the proposals were decided on."""
        return sum(each.state != "open" for each in self.proposals)


def assess(case: Case, chart: Chart) -> Assessment:
    """Return what follows from the chart of a case."""
    listed = decided_proposals(chart)
    plan = _steps(listed)
    waiting = {
        each.tooth for each in plan if _may_hurt(each) and not tooth_in(chart, each.tooth).extracted
    }
    return Assessment(
        left=whats_left(chart),
        stages=stages(chart),
        summary=mouth_summary(chart),
        questions=questions(chart),
        proposals=listed,
        plan=plan,
        blocks=blocks_for(case.species, waiting, bool(case.short_nosed)),
    )


def _may_hurt(step: PlannedStep) -> bool:
    """Whether a block is planned for a step: not for what is painless as it was proposed."""
    row = proposal_rows().get(step.rule)
    return step.changed or row is None or not row.painless


def decided_proposals(chart: Chart) -> tuple[DecidedProposal, ...]:
    """Return the proposals that wait for a decision and every one that was decided on, by tooth in
    charting order, then by rule.

    A treatment that answers a proposal withdraws it only while nobody has decided on it. What a
    clinician decided is part of the record: it stays, beside the treatment that was charted, and
    also where the findings have changed since and no longer bring it about.
    """
    decisions = {(each.tooth, each.rule): each for each in chart.decisions}
    made = {(each.tooth, each.rule): each for each in proposals_made(chart)}
    listed = [
        DecidedProposal(proposal, decisions.get(key))
        for key, proposal in made.items()
        if key in decisions or not proposal.answered_by
    ]
    listed += [
        DecidedProposal(_as_it_was(decided), decided, follows=False)
        for key, decided in decisions.items()
        if key not in made
    ]
    teeth = charting_order(chart, {each.proposal.tooth for each in listed})
    rules = list(proposal_rows())
    listed.sort(key=lambda each: _place(each.proposal, teeth, rules))
    return tuple(listed)


def _as_it_was(decided: Decided) -> Proposal:
    """Return the proposal that a decision was about; of a rule that is no longer in the table, what
    the decision says of it."""
    row = proposal_rows().get(decided.rule)
    text = row.text + ENDING if row else decided.text or decided.rule
    source = row.source if row else "a rule that is no longer in use"
    return Proposal(decided.tooth, decided.rule, text, source)


def _place(proposal: Proposal, teeth: tuple[int, ...], rules: list[str]) -> tuple[int, int]:
    known = proposal.rule in rules
    return teeth.index(proposal.tooth), rules.index(proposal.rule) if known else len(rules)


def planned(chart: Chart) -> tuple[PlannedStep, ...]:
    """Return what was agreed, by quadrant (1 to 4, deciduous teeth with their side) and then in
    charting order."""
    return _steps(decided_proposals(chart))


def _steps(listed: Iterable[DecidedProposal]) -> tuple[PlannedStep, ...]:
    steps = [
        PlannedStep(
            tooth=each.proposal.tooth,
            text=each.decided.text.removesuffix(ENDING) or each.proposal.step,
            rule=each.proposal.rule,
            changed=each.state == "changed",
            answered_by=each.proposal.answered_by,
        )
        for each in listed
        if each.decided is not None and each.state != "dismissed"
    ]
    return tuple(sorted(steps, key=lambda step: corner(step.tooth)))
