"""The mouth at a glance: mean indices, teeth by periodontal stage, missing teeth."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.assessment.staging import PeriodontalStage, stage_rows, stages
from dictate.assessment.tooth import Tooth, number_of, teeth_in, words_of_number
from dictate.chart.chart import Chart
from dictate.chart.kinds import finding_kinds

INDICES = ("calculus", "plaque", "gingivitis")
"""The indices of which a mean is formed."""

MISSING_TOOTH = "extracted or congenitally missing or unerupted: radiograph to tell"
"""What a missing tooth may be. Source: AVDC nomenclature, Abnormalities of Teeth."""

MISSING_RADIOGRAPHED = "extracted before or congenitally missing, unless the radiograph shows it"
"""What a missing tooth may be where a radiograph was taken. Source: as above."""


@dataclass(frozen=True)
class IndexMean:
    """The mean of an index over the teeth that were graded (`n`), on a scale from 0 to `scale`;
    `mean` is None where none was. Teeth charted normal carry no grade and are not counted."""

    kind: str
    mean: float | None
    n: int
    scale: int
    source: str

    @property
    def sentence(self) -> str:
        """The mean in words, with its scale and the number of teeth."""
        title = finding_kinds()[self.kind].title
        if self.mean is None:
            return f"{title}: not graded."
        teeth = "1 tooth" if self.n == 1 else f"{self.n} teeth"
        return f"{title}: mean {self.mean:.1f} on the scale 0-{self.scale}, {teeth} graded."


@dataclass(frozen=True)
class StageCount:
    """How many teeth are of a periodontal stage: `settled`, and `provisional` beside them."""

    stage: int
    settled: int
    provisional: int


@dataclass(frozen=True)
class MissingTooth:
    """A tooth with no crown in the mouth, and what it may be."""

    tooth: int
    sentence: str


@dataclass(frozen=True)
class MouthSummary:
    """A whole mouth. `normal_teeth` are those charted normal, in charting order."""

    indices: tuple[IndexMean, ...]
    stage_counts: tuple[StageCount, ...]
    stages: tuple[PeriodontalStage, ...]
    missing: tuple[MissingTooth, ...]
    normal_teeth: tuple[int, ...]


def mouth_summary(chart: Chart) -> MouthSummary:
    """Return the summary of what a chart says so far."""
    teeth = teeth_in(chart)
    staged = stages(chart)
    return MouthSummary(
        indices=tuple(index_mean(chart, kind) for kind in INDICES),
        stage_counts=tuple(_count(staged, row.stage) for row in stage_rows()),
        stages=staged,
        missing=tuple(
            MissingTooth(tooth.number, _why_missing(tooth)) for tooth in teeth if tooth.crown_absent
        ),
        normal_teeth=tuple(tooth.number for tooth in teeth if tooth.has({"normal"})),
    )


def index_mean(chart: Chart, kind: str) -> IndexMean:
    """Return the mean of an index over the teeth on which it was graded."""
    graded = (number_of(finding) for finding in chart.findings if finding.kind == kind)
    grades = [grade for grade in graded if grade is not None]
    return IndexMean(
        kind=kind,
        mean=sum(grades) / len(grades) if grades else None,
        n=len(grades),
        scale=chart.index_scale,
        source=finding_kinds()[kind].source,
    )


def summary_sentences(summary: MouthSummary) -> tuple[str, ...]:
    """Return a summary as sentences for people: indices, stages, missing teeth."""
    counted = [_words_of_count(count) for count in summary.stage_counts]
    stages_found = ", ".join(words for words in counted if words)
    return (
        *(mean.sentence for mean in summary.indices),
        f"Periodontal stages: {stages_found or 'none'}.",
        *(f"{missing.tooth}: {missing.sentence}." for missing in summary.missing),
    )


def _count(staged: tuple[PeriodontalStage, ...], stage: int) -> StageCount:
    of_stage = [each for each in staged if each.stage == stage]
    provisional = sum(each.provisional for each in of_stage)
    return StageCount(stage, len(of_stage) - provisional, provisional)


def _words_of_count(count: StageCount) -> str:
    parts = [words_of_number(count.settled)] if count.settled else []
    if count.provisional:
        parts.append(f"{count.provisional} provisional")
    return f"PD{count.stage} {' and '.join(parts)}" if parts else ""


def _why_missing(tooth: Tooth) -> str:
    if tooth.has({"unerupted"}):
        return "charted unerupted"
    if tooth.root_left:
        return "crown missing, a root is left"
    return MISSING_RADIOGRAPHED if tooth.radiographed else MISSING_TOOTH
