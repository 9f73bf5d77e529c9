"""What follows from a visit, in plain lines for a terminal and as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from pydantic import TypeAdapter

from dictate.assessment.assessment import Assessment, DecidedProposal
from dictate.assessment.completeness import Left
from dictate.assessment.staging import PeriodontalStage
from dictate.assessment.summary import summary_sentences
from dictate.assessment.words import plan_by_quadrant, reach_words, treatments
from dictate.chart.case import Case
from dictate.chart.chart import Chart
from dictate.formulary.arithmetic import CAUTION, AgentTotal, DoseLimits
from dictate.formulary.given import ONE_AGENT_A_BLOCK, BlocksGiven
from dictate.text import harmless

OVER = "OVER THE LIMIT"


def assessment_lines(
    case: Case, chart: Chart, found: Assessment, given: BlocksGiven
) -> Iterator[str]:
    """Yield what follows from a visit, line by line, without line breaks and harmless to show."""
    yield _settings(case, chart)
    yield CAUTION
    for title, lines in (
        ("What is left", _left(found.left)),
        ("Summary", summary_sentences(found.summary)),
        ("Periodontal stages", map(_stage, found.stages)),
        ("Questions", (each.sentence for each in found.questions)),
        ("Proposals, for the clinician to decide", _proposals(found.proposals)),
        ("Plan, as it was decided", _plan(found)),
        ("Blocks given", _given(given)),
    ):
        yield ""
        yield title
        for line in tuple(lines) or ("None.",):
            yield f"  {harmless(line)}"


def assessment_as_data(
    case: Case, chart: Chart, found: Assessment, given: BlocksGiven
) -> dict[str, Any]:
    """Return the same as plain data for JSON, lengths in mm, weights in kg, doses in mg and mL."""
    data: dict[str, Any] = TypeAdapter(Assessment).dump_python(found, mode="json")
    data["left"] |= {"complete": found.left.complete, "sentence": found.left.sentence}
    for row, stage in zip(data["stages"], found.stages, strict=True):
        row |= {"name": stage.name, "provisional": stage.provisional}
    for row, proposal in zip(data["proposals"], found.proposals, strict=True):
        row["state"] = proposal.state
    return {
        "case": case.id,
        "species": case.species,
        "index_scale": chart.index_scale,
        "dentition": chart.dentition,
        **data,
        "blocks_given": {
            "blocks": [each.model_dump(mode="json") for each in given.blocks],
            "not_counted": [each.model_dump(mode="json") for each in given.not_counted],
            "limits": _limits_data(given.limits),
            "refusal": given.refusal,
        },
        "caution": CAUTION,
    }


def _limits_data(limits: DoseLimits | None) -> dict[str, Any] | None:
    if limits is None:
        return None
    data = {**limits._asdict(), "agents": [each._asdict() for each in limits.agents]}
    plain: dict[str, Any] = TypeAdapter(dict[str, Any]).dump_python(data, mode="json")
    return plain


def _settings(case: Case, chart: Chart) -> str:
    weight = "weight not stated" if case.weight_kg is None else f"{case.weight_kg:g} kg"
    animal = f"{harmless(case.animal)}, " if case.animal else ""
    return (
        f"Case {case.id}: {animal}{case.species}, {weight}, {chart.dentition} dentition. "
        f"Indices are graded 0-{chart.index_scale}."
    )


def _left(left: Left) -> Iterator[str]:
    yield left.sentence
    for section in left.sections:
        yield f"{section.title}: {'; '.join(section.lacking)}."


def _stage(stage: PeriodontalStage) -> str:
    missing = f" Missing: {' '.join(stage.missing)}" if stage.missing else ""
    provisional = " provisional" if stage.provisional else ""
    return f"{stage.tooth} {stage.name}{provisional}: {' '.join(stage.reasons)}{missing}"


def _proposals(listed: Iterable[DecidedProposal]) -> Iterator[str]:
    for each in listed:
        proposal = each.proposal
        yield f"{proposal.tooth} {proposal.rule}: {proposal.text}"
        state = each.state
        if each.decided and each.state == "changed":
            state = f"changed to: {each.decided.text}"
        notes = [state, *_treated(proposal.answered_by)]
        if not each.follows:
            notes.append("the findings no longer bring it about")
        yield f"    {'; '.join(notes)}. Source: {proposal.source}."


def _treated(kinds: tuple[str, ...]) -> list[str]:
    done = " and ".join(treatments(kinds))
    return [f"treatment charted: {done}"] if done else []


def _plan(found: Assessment) -> Iterator[str]:
    for part in plan_by_quadrant(found):
        yield part.name
        for step in part.steps:
            notes = [*(["changed"] if step.changed else []), *_treated(step.answered_by)]
            noted = f" ({'; '.join(notes)})" if notes else ""
            yield f"  {step.tooth}: {step.text}{noted}"
        for block in part.blocks:
            reach = reach_words(block, "reaches")
            yield f"  {block.title} block {reach} (an aid, source: {block.source})."
            yield from (f"    {caution}" for caution in block.cautions)


def _given(given: BlocksGiven) -> Iterator[str]:
    for block in given.blocks:
        yield f"{block.words()}."
    if given.not_counted:
        words = ", ".join(each.words() for each in given.not_counted)
        yield f"NOT COUNTED, agent or volume not charted: {words}."
    if given.refusal:
        yield f"Refused: {given.refusal}"
    if given.limits:
        yield from _limits(given.limits, bool(given.not_counted))


def _limits(limits: DoseLimits, not_all: bool) -> Iterator[str]:
    yield (
        f"For a {limits.species} of {limits.weight_kg:g} kg, by the formulary that "
        f"{limits.signed_by} signed on {limits.signed_on}:"
    )
    yield from (f"  {_agent(each)}" for each in limits.agents)
    together = f"together {_percent(limits.fraction)} of the limit"
    within = "but not all is counted" if not_all else "not over it"
    yield f"  {OVER}: {together}. {OVER}." if limits.over else f"  {together}, {within}."
    yield f"  {ONE_AGENT_A_BLOCK}"


def _agent(total: AgentTotal) -> str:
    return (
        f"{total.agent}: {total.volume_ml:g} mL, {total.total_mg:g} mg, of at most "
        f"{total.limit_mg:g} mg ({total.limit_ml:g} mL): {_percent(total.fraction)}; limit entered "
        f"by {total.entered_by} on {total.entered_on}."
    )


def _percent(fraction: float) -> str:
    return f"{100 * fraction:.1f} %"
