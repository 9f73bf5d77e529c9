"""What follows from a visit, as the plain data that a record keeps beside its events."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from dictate.assessment.assessment import Assessment, DecidedProposal
from dictate.assessment.completeness import Left
from dictate.chart.events import Decision

_RULES = Path(__file__).resolve().parent.parent
_RULE_FOLDERS = ("assessment", "chart")


class _Plain(BaseModel):
    model_config = ConfigDict(
        frozen=True, extra="forbid", json_schema_serialization_defaults_required=True
    )


class StageData(_Plain):
    """The periodontal stage of a tooth, 0 to 4, and why. `provisional` where something that was
    not measured could make it graver, which `missing` names. `percent` is the greatest known
    attachment loss relative to the root, None where none is known."""

    tooth: int
    stage: int
    reasons: tuple[str, ...]
    provisional: bool
    missing: tuple[str, ...]
    percent: float | None
    source: str


class IndexMeanData(_Plain):
    """The mean of an index over the `n` teeth that were graded, from 0 to `scale`; None where
    none was."""

    kind: str
    mean: float | None
    n: int
    scale: int


class QuestionData(_Plain):
    """What does not fit together, by which rule: on a tooth, or in the mouth where that is
    None."""

    tooth: int | None
    rule: str
    sentence: str
    source: str


class ProposalData(_Plain):
    """What may be done about a tooth, by which rule, and what was decided; `decided` is what is
    to be done, "" where nothing was decided or it was dismissed. `follows` is false where a
    decision stands but the findings no longer bring the proposal about."""

    tooth: int
    rule: str
    text: str
    source: str
    state: Literal["open"] | Decision
    decided: str
    follows: bool


class PlanData(_Plain):
    """What a clinician agreed to do about a tooth, by the rule that proposed it. `answered_by`
    are the kinds of treatment charted that answer it."""

    tooth: int
    text: str
    rule: str
    changed: bool
    answered_by: tuple[str, ...]


class ToothLeftData(_Plain):
    """What is left on a tooth that was begun, and the sites without a probing depth."""

    tooth: int
    lacking: tuple[str, ...]
    sites_not_probed: tuple[str, ...]


class SectionLeftData(_Plain):
    """A part of the visit beside the teeth of which something is lacking; `begun` where some of
    it is examined."""

    section: str
    title: str
    lacking: tuple[str, ...]
    begun: bool


class LeftData(_Plain):
    """What is left to examine, in charting order; `skipped` are those of the teeth not examined
    that were passed over on purpose. `sentence` says it to people."""

    complete: bool
    sentence: str
    not_examined: tuple[int, ...]
    skipped: tuple[int, ...]
    begun: tuple[ToothLeftData, ...]
    sections: tuple[SectionLeftData, ...]


class AssessmentData(_Plain):
    """What follows from a visit. A clinician decides what becomes of it.

    `rules` is a fingerprint of the rules and tables that it was worked out by: a program whose
    rules are others works it out anew.
    """

    rules: str = Field(pattern=r"^[0-9a-f]{16}$")
    left: LeftData
    index_means: tuple[IndexMeanData, ...]
    stages: tuple[StageData, ...]
    questions: tuple[QuestionData, ...]
    proposals: tuple[ProposalData, ...]
    plan: tuple[PlanData, ...]


def assessment_data(found: Assessment) -> AssessmentData:
    """Return what follows from a chart, as plain data."""
    return AssessmentData(
        rules=fingerprint_of_rules(),
        left=_left(found.left),
        index_means=tuple(
            IndexMeanData(kind=each.kind, mean=each.mean, n=each.n, scale=each.scale)
            for each in found.summary.indices
        ),
        stages=_stages(found),
        questions=tuple(
            QuestionData(
                tooth=each.tooth, rule=each.rule, sentence=each.sentence, source=each.source
            )
            for each in found.questions
        ),
        proposals=tuple(map(_proposal, found.proposals)),
        plan=tuple(
            PlanData(
                tooth=each.tooth,
                text=each.text,
                rule=each.rule,
                changed=each.changed,
                answered_by=each.answered_by,
            )
            for each in found.plan
        ),
    )


@cache
def fingerprint_of_rules() -> str:
    """Return 16 hexadecimal digits that change with the rules and tables of assessment and
    chart."""
    digest = sha256()
    for folder in _RULE_FOLDERS:
        for path in sorted((_RULES / folder).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(path.relative_to(_RULES).as_posix().encode() + b"\0")
                digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


def _left(left: Left) -> LeftData:
    return LeftData(
        complete=left.complete,
        sentence=left.sentence,
        not_examined=left.not_examined,
        skipped=left.skipped,
        begun=tuple(
            ToothLeftData(
                tooth=each.tooth, lacking=each.lacking, sites_not_probed=each.sites_not_probed
            )
            for each in left.begun
        ),
        sections=tuple(
            SectionLeftData(
                section=each.section, title=each.title, lacking=each.lacking, begun=each.begun
            )
            for each in left.sections
        ),
    )


def _stages(found: Assessment) -> tuple[StageData, ...]:
    return tuple(
        StageData(
            tooth=each.tooth,
            stage=each.stage,
            reasons=each.reasons,
            provisional=each.provisional,
            missing=each.missing,
            percent=each.percent,
            source=each.source,
        )
        for each in found.stages
    )


def _proposal(each: DecidedProposal) -> ProposalData:
    proposal = each.proposal
    return ProposalData(
        tooth=proposal.tooth,
        rule=proposal.rule,
        text=proposal.text,
        source=proposal.source,
        state="open" if each.decided is None else each.decided.decision,
        decided="" if each.decided is None else each.decided.text,
        follows=each.follows,
    )
