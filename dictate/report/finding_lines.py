"""Findings by tooth, in words, and the table of probing depths."""

from __future__ import annotations

from itertools import groupby
from typing import Literal, NamedTuple

from dictate.chart.chart import Chart
from dictate.chart.finding import SIX_SITES, Finding, same_place
from dictate.chart.short import code_of, value_words, weight


class Said(NamedTuple):
    """A finding for people: its code in the drawing ("" for none) and the finding in words."""

    code: str
    words: str


class Depth(NamedTuple):
    """A probing depth: its mm as they are written, the site for one that has no column of its
    own, and whether it is deeper than normal."""

    words: str
    site: str
    deep: bool


def finding_lines(chart: Chart) -> dict[int, list[tuple[str, list[Said]]]]:
    """Return what was charted in the mouth, in words by tooth and then by site, in charting
    order; "" is the site of what holds for the whole tooth. Of the probing depths only the
    deepest is named, because they have a table of their own."""
    return {tooth: _by_site(chart, tooth) for tooth in _teeth_with(chart, "charting")}


def section_lines(
    chart: Chart, section: Literal["radiographs", "treatment"]
) -> list[tuple[list[int], list[Said]]]:
    """Return the findings of a part of the visit in words: teeth that carry the same ones stand
    together, in charting order of the first of them."""
    lines: dict[tuple[Said, ...], list[int]] = {}
    for tooth in _teeth_with(chart, section):
        findings = sorted(_of(chart, tooth, section), key=weight)
        said = tuple(as_said(finding, chart.index_scale) for finding in findings)
        lines.setdefault(said, []).append(tooth)
    return [(teeth, list(said)) for said, teeth in lines.items()]


def depth_lines(chart: Chart) -> dict[int, tuple[list[Depth | None], list[Depth]]]:
    """Return the probing depths by tooth, in charting order: one for each of `SIX_SITES`
    (None: not probed), and those at other sites or none."""
    normal = chart.anatomy.normal_probing_depth_mm.most
    lines: dict[int, tuple[list[Depth | None], list[Depth]]] = {}
    for tooth in _teeth_with(chart, "charting"):
        depths = {same_place(each.site): _depth(each, normal) for each in _depths(chart, tooth)}
        if depths:
            columns = [depths.pop(site, None) for site in SIX_SITES]
            lines[tooth] = columns, list(depths.values())
    return lines


def _teeth_with(chart: Chart, section: str) -> list[int]:
    teeth = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    return [tooth for tooth in teeth if _of(chart, tooth, section)]


def _of(chart: Chart, tooth: int, section: str) -> list[Finding]:
    return [each for each in chart.on(tooth) if each.row.section == section]


def _by_site(chart: Chart, tooth: int) -> list[tuple[str, list[Said]]]:
    others = (each for each in _of(chart, tooth, "charting") if each.kind != "pocket")
    ordered = sorted(others, key=lambda each: (each.site or "", weight(each)))
    lines = [
        (site, [as_said(finding, chart.index_scale) for finding in findings])
        for site, findings in groupby(ordered, key=lambda each: each.site or "")
    ]
    return lines + _deepest(chart, tooth)


def _deepest(chart: Chart, tooth: int) -> list[tuple[str, list[Said]]]:
    depths = _depths(chart, tooth)
    if not depths:
        return []
    most = max(map(_millimetres, depths))
    deepest = [each for each in depths if _millimetres(each) == most]
    sites = [each.site or "no site" for each in deepest]
    site = ", ".join(sites) if len(sites) < 3 else f"{len(sites)} sites"
    value = value_words(deepest[0])
    count = f", deepest of {len(depths)}" if len(depths) > 1 else ""
    return [(site, [Said(f"P{value}", f"Probing depth {value} mm{count}")])]


def _depths(chart: Chart, tooth: int) -> list[Finding]:
    return [each for each in chart.on(tooth) if each.kind == "pocket"]


def _depth(finding: Finding, normal_mm: float) -> Depth:
    return Depth(value_words(finding), finding.site or "no site", _millimetres(finding) > normal_mm)


def _millimetres(finding: Finding) -> float:
    return finding.value if isinstance(finding.value, int | float) else 0.0


def as_said(finding: Finding, index_scale: int) -> Said:
    """Return a finding with its code and in words."""
    row, value = finding.row, value_words(finding)
    words = " ".join(part for part in (row.title, value, finding.unit) if part)
    if row.terms:
        term = row.terms.get(value, value)
        stated = f"{row.title} {value}" if value[:1].isdigit() else row.title
        repeats = term.lower().startswith(row.title.lower())
        words = term[:1].upper() + term[1:] if repeats else f"{stated}: {term}"
    elif row.most == "scale":
        words += f" of {index_scale}"
    return Said("" if finding.kind == "radiographed" else code_of(finding), words)
