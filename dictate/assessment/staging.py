"""The periodontal stage of each tooth, PD0 to PD4, with its reasons.

Source of the stages: AVDC nomenclature, Periodontal Disease (rows in periodontal_stages.toml).
What is decided here:

- The percentage is that of bone loss on a radiograph, or the worst attachment loss in mm over the
  length of the root in mm. Where neither can be had there is no percentage, and none is guessed.
- Attachment is lost where the margin has receded or the loss goes beyond the species' normal
  sulcus; then the whole loss (depth + recession) counts. A depth within normal without recession
  counts as no loss. (AVDC gives the sum; the allowance for a normal sulcus is common practice.)
- The gravest criterion wins: the stage is the least that the findings allow. It is provisional
  where something that was not measured could make it graver; `missing` says what. It is
  provisional too where a recession and an enlargement are charted at one site with a depth beyond
  normal: the loss there may be more or less than their sum. Stage 4 is settled where another site,
  the radiograph or a furcation makes it.
- A tooth of which neither gingiva nor attachment was examined has no stage, nor has a missing or
  unerupted one. A tooth charted normal is PD0.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from dictate.assessment.attachment import SiteAttachment, ToothAttachment, attachment_of
from dictate.assessment.tooth import Tooth, teeth_in, tooth_in, words_of_number
from dictate.chart.chart import Chart

BONE_LOSS_KINDS = ("horizontal_bone_loss", "vertical_bone_loss")


class StageRow(BaseModel):
    """One row of periodontal_stages.toml; percentages are of the root's length."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    stage: int
    title: str
    source: str
    more_than_percent: float | None = None
    at_least_percent: float | None = None
    furcation: int | None = None

    def holds_at_percent(self, percent: float) -> bool:
        """Return whether a loss of so many percent of the root brings this stage about."""
        if self.more_than_percent is not None:
            return percent > self.more_than_percent
        return self.at_least_percent is not None and percent >= self.at_least_percent

    def holds_at_furcation(self, furcation: float) -> bool:
        """Return whether a furcation of this stage brings this stage about."""
        return self.furcation is not None and furcation >= self.furcation


@dataclass(frozen=True)
class PeriodontalStage:
    """The stage of a tooth, 0 to 4, and why, the gravest reason first.

    `provisional` where something not measured could make it graver, or two measurements cannot both
    hold; `missing` then says what.
    `percent` is the greatest known attachment loss relative to the root, None where none is known.
    """

    tooth: int
    stage: int
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    percent: float | None
    source: str

    @property
    def provisional(self) -> bool:
        """Whether another stage has not been ruled out."""
        return bool(self.missing)

    @property
    def name(self) -> str:
        """Its abbreviation: "PD2"."""
        return f"PD{self.stage}"


@dataclass(frozen=True)
class _Criterion:
    stage: int
    reason: str


@cache
def stage_rows() -> tuple[StageRow, ...]:
    """Return the table of stages, mildest first."""
    with (Path(__file__).resolve().parent / "periodontal_stages.toml").open("rb") as file:
        rows = [StageRow(**row) for row in tomllib.load(file)["stage"]]
    return tuple(sorted(rows, key=lambda row: row.stage))


def stage_at_percent(percent: float) -> int:
    """Return the stage, 0 to 4, that a loss of so many percent of the root's length makes."""
    return max((row.stage for row in stage_rows() if row.holds_at_percent(percent)), default=0)


def stage_at_furcation(furcation: float) -> int:
    """Return the least stage that a furcation of stage 1 to 3 makes."""
    return max((row.stage for row in stage_rows() if row.holds_at_furcation(furcation)), default=0)


def stage_of(chart: Chart, tooth: int) -> PeriodontalStage | None:
    """Return the periodontal stage of a tooth, None where it has none (see above)."""
    return stage_of_tooth(tooth_in(chart, tooth))


def stages(chart: Chart) -> tuple[PeriodontalStage, ...]:
    """Return the stages of all teeth that have one, in charting order."""
    return tuple(stage for tooth in teeth_in(chart) if (stage := stage_of_tooth(tooth)))


def stage_of_tooth(tooth: Tooth) -> PeriodontalStage | None:
    """Return the periodontal stage of a tooth, None where it has none (see above)."""
    if tooth.crown_absent:
        return None
    attachment = attachment_of(tooth)
    criteria = [
        *_of_gingiva(tooth),
        *_of_probing(tooth, attachment),
        *_of_radiograph(tooth),
        *_of_furcation(tooth),
    ]
    if not criteria:
        return None
    stage = max(criterion.stage for criterion in criteria)
    telling = [each for each in criteria if stage <= 1 or each.stage >= 2]
    telling.sort(key=lambda criterion: -criterion.stage)
    return PeriodontalStage(
        tooth=tooth.number,
        stage=stage,
        reasons=tuple(criterion.reason for criterion in telling),
        missing=_missing(tooth, attachment, stage),
        percent=known_percent(tooth, attachment),
        source=stage_rows()[stage].source,
    )


def radiographic_percent(tooth: Tooth) -> float | None:
    """Return the greatest bone loss charted from a radiograph, in percent of the root."""
    charted = (tooth.highest(kind) for kind in BONE_LOSS_KINDS)
    return max((percent for percent in charted if percent is not None), default=None)


def probed_percent(tooth: Tooth, attachment: ToothAttachment) -> float | None:
    """Return the worst attachment loss in percent of the root's length, 0 where attachment was
    probed and none is lost; None without a root length or without anything probed."""
    length = tooth.highest("root_length")
    if not length or attachment.worst is None:
        return None
    return _percent_of_root(attachment.worst_lost, length)


def known_percent(tooth: Tooth, attachment: ToothAttachment) -> float | None:
    """Return the greater of the radiographic and the probed percentage, None without either."""
    both = (radiographic_percent(tooth), probed_percent(tooth, attachment))
    return max((percent for percent in both if percent is not None), default=None)


def _percent_of_root(site: SiteAttachment | None, length_mm: float) -> float:
    return 0.0 if site is None else round(100 * (site.loss_mm or 0) / length_mm, 6)


def _of_gingiva(tooth: Tooth) -> list[_Criterion]:
    criteria = []
    if tooth.has({"normal"}):
        criteria.append(_Criterion(0, "Charted present and normal."))
    index = tooth.highest("gingivitis")
    if index is not None:
        criteria.append(_Criterion(int(index > 0), f"Gingivitis index {words_of_number(index)}."))
    if tooth.has({"bleeding"}):
        criteria.append(_Criterion(1, "Bleeding on probing."))
    return criteria


def _of_probing(tooth: Tooth, attachment: ToothAttachment) -> list[_Criterion]:
    lost, deepest = attachment.worst_lost, attachment.deepest
    if lost is not None:
        least = "at least " if lost.at_least else ""
        loss = f"Attachment loss {least}{words_of_number(lost.loss_mm or 0)} mm ({lost.where()})"
        percent = probed_percent(tooth, attachment)
        if percent is None:
            return [_Criterion(stage_at_percent(1), f"{loss}, percentage unknown.")]
        length = words_of_number(tooth.highest("root_length") or 0)
        of_root = f"{words_of_number(percent)} % of a root of {length} mm"
        return [_Criterion(stage_at_percent(percent), f"{loss}, {of_root}.")]
    if deepest is None:
        return []
    depth = f"{words_of_number(deepest.depth_mm or 0)} mm"
    if attachment.pseudopockets:
        reason = f"Pseudopocket: depth up to {depth} with enlargement, no attachment loss."
        return [_Criterion(0, reason)]
    normal = words_of_number(deepest.normal_most_mm)
    reason = f"Depth up to {depth}, normal up to {normal} mm, and no recession charted."
    return [_Criterion(0, reason)]


def _of_radiograph(tooth: Tooth) -> list[_Criterion]:
    percent = radiographic_percent(tooth)
    if percent is None:
        return []
    reason = f"Bone loss {words_of_number(percent)} % on the radiograph."
    return [_Criterion(stage_at_percent(percent), reason)]


def _of_furcation(tooth: Tooth) -> list[_Criterion]:
    furcation = tooth.highest("furcation")
    if not furcation:
        return []
    reason = f"Stage {words_of_number(furcation)} furcation."
    return [_Criterion(stage_at_furcation(furcation), reason)]


def _margin_unclear(attachment: ToothAttachment) -> list[str]:
    unclear = (each for each in attachment.sites if each.margin_unclear)
    return [
        f"Recession and enlargement at one site ({site.where()}): which is it?"
        for site in unclear
        if site.deeper_than_normal
    ]


def _stage_without_unclear_sites(tooth: Tooth, attachment: ToothAttachment) -> int:
    sites = tuple(site for site in attachment.sites if not site.margin_unclear)
    probed = _of_probing(tooth, ToothAttachment(tooth.number, sites))
    certain = (*probed, *_of_radiograph(tooth), *_of_furcation(tooth))
    return max((criterion.stage for criterion in certain), default=0)


def _missing(tooth: Tooth, attachment: ToothAttachment, stage: int) -> tuple[str, ...]:
    missing = _margin_unclear(attachment)
    if stage == stage_rows()[-1].stage:
        return () if _stage_without_unclear_sites(tooth, attachment) == stage else tuple(missing)
    on_radiograph = radiographic_percent(tooth)
    lost = attachment.worst_lost is not None
    if stage >= 2 and known_percent(tooth, attachment) is None:
        missing.append("No percentage: root length in mm or bone loss in % from a radiograph.")
    measured = on_radiograph is not None or attachment.worst is not None
    if stage < 2 and not measured and not tooth.has({"normal"}):
        missing.append("Attachment not measured: probing depths or a radiograph.")
    if stage == 0 and not tooth.has({"normal", "gingivitis"}):
        missing.append("Gingivitis not graded.")
    if on_radiograph is None and any(site.at_least for site in attachment.sites):
        missing.append("Recession without a probing depth at the same site.")
    if lost and on_radiograph == 0 and tooth.highest("root_length") is None:
        missing.append("Attachment lost on probing, no bone lost on the radiograph: root length.")
    return tuple(missing)
