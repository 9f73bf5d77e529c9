"""A letter of referral: to whom, why, what was found, what was done, what is asked."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from dictate.assessment.assessment import Assessment
from dictate.assessment.staging import PeriodontalStage
from dictate.assessment.tooth import charting_order, number_of
from dictate.chart.anatomy import tooth_name
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import finding_kinds
from dictate.chart.short import value_words, weight
from dictate.documents.draft import Block, heading, paragraph, point
from dictate.errors import DictateError
from dictate.report.case_lines import identity_lines
from dictate.report.finding_lines import as_said, section_lines
from dictate.report.heard_lines import heard_lines
from dictate.report.record import Record
from dictate.report.visit_lines import ObservationLine, observation_lines

MOST_TEETH = 12
"""How many teeth a letter names one by one, so that it stays on one page."""

ASKED = "Please examine the animal, and treat it or advise us as you find right."

_LESSER = frozenset(
    ("normal", "calculus", "plaque", "gingivitis", "bleeding", "radiographed", "root_length")
)
"""Kinds of finding that do not bring a tooth into a letter by themselves."""


class Wanted(NamedTuple):
    """What a person says of a letter: to whom, why and what is asked ("" for none stated), and
    its date."""

    to: str
    why: str
    asked: str
    written: date


def letter_blocks(record: Record, wanted: Wanted) -> list[Block]:
    """Return the text of a letter of referral.

    Raises DictateError where nothing says why: neither a reason nor a tooth charted as referred.
    """
    chart = record.chart
    found = record.follows
    return [
        paragraph(f"{wanted.written.day} {wanted.written:%B %Y}"),
        *([paragraph(f"To {wanted.to}")] if wanted.to.strip() else []),
        paragraph(f"About {_animal(record)}"),
        paragraph("Dear colleague,"),
        heading("Why we refer"),
        *_why(record, wanted.why),
        heading("What was found"),
        *_mouth(record, found),
        *_teeth(chart, found),
        *_beside_the_teeth(chart),
        heading("What was done"),
        *_done(chart, found),
        heading("What we ask"),
        paragraph(wanted.asked.strip() or ASKED),
        paragraph("With kind regards,"),
    ]


def _animal(record: Record) -> str:
    case = record.case
    identity = dict(identity_lines(case, record.dentition))
    told = [identity[label] for label in ("Breed", "Sex", "Age", "Weight") if label in identity]
    if case.owner_reference:
        told.append(f"owner reference {case.owner_reference}")
    examined = f"examined on {case.opened.day} {case.opened:%B %Y}"
    parts = (f"{case.animal or 'an animal without a name'}, {case.species}", *told, examined)
    return f"{', '.join(parts)}; our case {case.id}"


def _why(record: Record, why: str) -> list[Block]:
    referred = [each.tooth for each in record.chart.findings if each.kind == "referred"]
    if not why.strip() and not referred:
        raise DictateError("The letter has to say why: add --why, or chart the tooth as referred.")
    blocks = [paragraph(why)] if why.strip() else []
    if referred:
        named = ", ".join(f"{tooth} ({tooth_name(tooth)})" for tooth in sorted(referred))
        blocks.append(paragraph(f"Charted as referred: {named}."))
    if record.case.reason:
        blocks.append(paragraph(f"Reason for the visit: {record.case.reason}"))
    return blocks


_GRAVE = frozenset(
    ("pulp_exposure", "periapical_lucency", "draining_tract", "oronasal_fistula", "resorption")
)
_GRAVE_FRACTURES = frozenset(("CCF", "CCRF", "RF"))
"""What brings a tooth forward in a letter as a stage 3 does."""


def _mouth(record: Record, found: Assessment) -> list[Block]:
    graded = [each.sentence for each in found.summary.indices if each.mean is not None]
    left = found.left.sentence.removeprefix("Left: ")
    lacking = "" if found.left.complete else f"Still to examine or to measure: {left}"
    doubts = sum(line.doubt for line in heard_lines(record))
    unsettled = f"Not settled, and not in this letter: {doubts} of what was said." if doubts else ""
    told = " ".join(part for part in (*graded, lacking, unsettled) if part)
    return [paragraph(told)] if told else []


def _teeth(chart: Chart, found: Assessment) -> list[Block]:
    """Return a point for every tooth with more than lesser findings, the gravest first."""
    stages = {stage.tooth: stage for stage in found.stages}
    told = {each.tooth for each in chart.findings if _is_relevant(each, chart)}
    told |= {tooth for tooth, stage in stages.items() if stage.stage >= 2}
    if not told:
        return [paragraph("No tooth has more than calculus, plaque or gingivitis.")]
    ordered = sorted(
        charting_order(chart, told), key=lambda tooth: -_gravity(chart, tooth, stages.get(tooth))
    )
    blocks = [point(_tooth(chart, tooth, stages.get(tooth))) for tooth in ordered[:MOST_TEETH]]
    if more := sorted(ordered[MOST_TEETH:]):
        numbers = ", ".join(map(str, more))
        blocks.append(point(f"Findings on {numbers} too: see the dental record."))
    return blocks


def _is_relevant(finding: Finding, chart: Chart) -> bool:
    if finding.kind in _LESSER or finding.row.section == "treatment":
        return False
    depth = number_of(finding) if finding.kind == "pocket" else None
    return depth is None or depth > chart.anatomy.normal_probing_depth_mm.most


def _gravity(chart: Chart, tooth: int, stage: PeriodontalStage | None) -> int:
    """Return 0 to 5: referred teeth stand first, then by stage."""
    found = chart.on(tooth)
    if any(each.kind == "referred" for each in found):
        return 5
    grave = any(each.kind in _GRAVE or each.value in _GRAVE_FRACTURES for each in found)
    return max(stage.stage if stage else 0, 3 if grave else 0)


def _tooth(chart: Chart, tooth: int, stage: PeriodontalStage | None) -> str:
    findings = sorted(filter(lambda each: _is_relevant(each, chart), chart.on(tooth)), key=weight)
    said = [_in_words(chart, each) for each in findings if each.kind != "pocket"]
    if depths := [each for each in findings if each.kind == "pocket"]:
        deepest = max(depths, key=lambda each: number_of(each) or 0)
        where = f" {deepest.site}" if deepest.site else ""
        said.append(f"pocket up to {value_words(deepest)} mm{where}")
    if stage and stage.stage:
        provisional = " (provisional)" if stage.provisional else ""
        said.insert(0, f"{stage.name}{provisional}")
    return f"{tooth}, {tooth_name(tooth)}: {'; '.join(said)}"


def _in_words(chart: Chart, finding: Finding) -> str:
    words = as_said(finding, chart.index_scale).words
    words = words.removeprefix(f"{finding_kinds()['fracture'].title}: ")
    site = f" {finding.site}" if finding.site else ""
    return words[:1].lower() + words[1:] + site


def _beside_the_teeth(chart: Chart) -> list[Block]:
    seen = observation_lines(chart, "head", "mouth", "soft_tissue")
    odd = [_line(line) for line in seen if not line.normal]
    return [point(f"Beside the teeth: {'; '.join(odd)}")] if odd else []


def _line(line: ObservationLine) -> str:
    place = f" {line.place}" if line.place else ""
    return f"{line.title[:1].lower()}{line.title[1:]}{place}: {line.words}"


def _done(chart: Chart, found: Assessment) -> list[Block]:
    views = [line.words for line in observation_lines(chart, "radiographs")]
    blocks = [point(f"Radiographs: {', '.join(views)}")] if views else []
    for teeth, findings in sorted(section_lines(chart, "treatment"), key=lambda line: len(line[0])):
        words = "; ".join(one.words for one in findings)
        blocks.append(point(f"{_numbers(teeth)}: {words}"))
    given = observation_lines(chart, "treatment")
    blocks += [point(f"{line.title}, {line.place}: {line.words}") for line in given]
    waiting: dict[str, list[int]] = {}
    for step in found.plan:
        if not step.answered_by:
            waiting.setdefault(step.text, []).append(step.tooth)
    if waiting:
        agreed = "; ".join(f"{_numbers(teeth)} {text}" for text, teeth in waiting.items())
        blocks.append(point(f"Agreed, not yet done: {agreed}"))
    return blocks or [paragraph("Nothing is charted as treated.")]


def _numbers(teeth: Iterable[int]) -> str:
    listed = list(teeth)
    return ", ".join(map(str, listed)) if len(listed) <= 12 else f"{len(listed)} teeth"
