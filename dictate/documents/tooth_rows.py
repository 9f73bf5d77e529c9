"""The table of teeth in the printed record: what was found on each, in one row."""

from __future__ import annotations

from typing import Any, NamedTuple

from dictate.assessment.staging import PeriodontalStage
from dictate.assessment.tooth import charting_order
from dictate.chart.anatomy import CORNER_NAMES, corner, is_deciduous
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.short import value_words, weight
from dictate.report.finding_lines import Depth, as_said, depth_lines

INDEX_COLUMNS = ("calculus", "plaque", "gingivitis", "mobility")
"""Kinds of finding that have a column of their own, where they hold for the whole tooth."""


class ToothTable(NamedTuple):
    """Rows by corner of the mouth; `normal` are the teeth of which nothing but "present, normal"
    is charted, and `remarks` why stages are provisional, each with its letter."""

    corners: list[dict[str, Any]]
    normal: list[int]
    remarks: list[dict[str, str]]


def tooth_table(chart: Chart, stages: tuple[PeriodontalStage, ...]) -> ToothTable:
    """Return every tooth on which something was found in the mouth, or which has a stage, in
    charting order, as plain data."""
    staged = {stage.tooth: stage for stage in stages}
    found = {each.tooth for each in chart.findings if each.row.section == "charting"}
    listed = charting_order(chart, found | set(staged))
    normal = [tooth for tooth in listed if _only_normal(chart, tooth, staged.get(tooth))]
    letters = _letters(stages)
    depths = depth_lines(chart)
    corners = []
    for number, name in CORNER_NAMES.items():
        rows = [
            _row(chart, tooth, depths.get(tooth), staged.get(tooth), letters)
            for tooth in listed
            if corner(tooth) == number and tooth not in normal
        ]
        if rows:
            corners.append({"name": name.capitalize(), "rows": rows})
    remarks = [{"letter": letter, "text": text} for text, letter in letters.items()]
    return ToothTable(corners, normal, remarks)


def _only_normal(chart: Chart, tooth: int, stage: PeriodontalStage | None) -> bool:
    kinds = {each.kind for each in chart.on(tooth) if each.row.section == "charting"}
    return kinds == {"normal"} and (stage is None or (stage.stage == 0 and not stage.provisional))


def _letters(stages: tuple[PeriodontalStage, ...]) -> dict[str, str]:
    texts = dict.fromkeys(text for stage in stages for text in stage.missing)
    return {text: _letter(number) for number, text in enumerate(texts)}


def _letter(number: int) -> str:
    """Return a to z, then aa, ab and so on."""
    before, last = divmod(number, 26)
    return (_letter(before - 1) if before else "") + chr(ord("a") + last)


def _row(
    chart: Chart,
    tooth: int,
    depths: tuple[list[Depth | None], list[Depth]] | None,
    stage: PeriodontalStage | None,
    letters: dict[str, str],
) -> dict[str, Any]:
    columns, others = depths or ([None] * 6, [])
    findings = sorted(
        (each for each in chart.on(tooth) if each.row.section == "charting"), key=weight
    )
    indices = {kind: _of_whole_tooth(findings, kind) for kind in INDEX_COLUMNS}
    elsewhere = [
        each for each in findings if each.kind != "pocket" and each not in indices.values()
    ]
    return {
        "tooth": str(tooth),
        "deciduous": is_deciduous(tooth),
        "depths": [_depth(each) for each in columns],
        "other_depths": [{**_depth(each), "site": each.site} for each in others],
        "indices": [value_words(each) if each else "" for each in indices.values()],
        "findings": [_in_words(chart, each) for each in elsewhere],
        "stage": stage.name if stage else "",
        "provisional": bool(stage and stage.provisional),
        "reasons": " ".join(stage.reasons) if stage else "",
        "remarks": ", ".join(letters[text] for text in stage.missing) if stage else "",
    }


def _of_whole_tooth(findings: list[Finding], kind: str) -> Finding | None:
    of_kind = [each for each in findings if each.kind == kind]
    return of_kind[0] if len(of_kind) == 1 and of_kind[0].site is None else None


def _depth(depth: Depth | None) -> dict[str, Any]:
    return {"words": depth.words if depth else "", "deep": bool(depth and depth.deep)}


def _in_words(chart: Chart, finding: Finding) -> str:
    words = as_said(finding, chart.index_scale).words
    return f"{words}, {finding.site}" if finding.site else words
