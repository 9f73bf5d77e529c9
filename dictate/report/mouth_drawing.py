"""The mouth as a drawing (SVG): every tooth in its place, with what was found on it.

The mouth is open and seen from the front: the animal's right is on the left of the page, the
upper arch above the lower, cheek side outwards. One unit is 0.1 mm when the drawing is 10 cm
wide. Nothing is told by colour. Shapes and sizes are drawn by eye and measure nothing.
"""

from __future__ import annotations

import re
from math import ceil, copysign
from textwrap import wrap
from xml.etree.ElementTree import Element, SubElement, tostring

from dictate.chart.anatomy import other_dentition, tooth_kind, tooth_name
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding, same_place
from dictate.chart.short import code_meaning, code_of, value_words, weight
from dictate.report.mouth_spots import Spot, half_height, spots
from dictate.text import harmless

_ROOM_FOR_LABELS, _LINE = 160, 20

_OUTLINES = {
    "incisor": "M-.3-.5Q0-.66.3-.5L.5.34Q.5.5.3.52Q0 .6-.3.52Q-.5.5-.5.34Z",
    "canine": "M-.5 0C-.5.7.1.62.5 0C.1-.62-.5-.7-.5 0Z",
    "premolar": "M-.5 0C-.42.34-.2.5 0 .5C.2.5.42.34.5 0C.42-.34.2-.5 0-.5C-.2-.5-.42-.34-.5 0Z",
    "molar": "M-.5-.2Q-.5-.5-.27-.5Q0-.36.27-.5Q.5-.5.5-.2L.5.2Q.5.5.27.5Q0 .36-.27.5Q-.5.5-.5.2Z",
}
"""Outlines in a box of 1 by 1: x from mesial to distal, y from tongue or palate to cheek."""

_MARKS = {
    "missing": "M-.4-.4L.4.4M-.4.4L.4-.4",
    "extracted": "M-.34.5L.1-.5M-.1.5L.34-.5",
    "fracture": "M-.28.5L-.1.16L-.28-.02L-.08-.46",
    "furcation": "M.17-.2L.17.12L.03.42M.17.12L.31.42",
    "resorption": "M.44-.2Q.44-.42.28-.42Q.12-.42.12-.2Q.12.02.28.02Q.44.02.44-.2Z",
}
"""Marks on the tooth, in the same box. Furcation: roots that part, on the side named."""

_THICKNESS = {"incisor": 38, "canine": 46, "premolar": 42, "molar": 52}

_MARK_WORDS = {
    "": "not yet charted",
    "normal": "charted",
    "missing": "missing",
    "extracted": "extracted",
    "unerupted": "unerupted",
    "fracture": "fractured",
    "resorption": "resorption",
    "furcation": "furcation",
}

_DEPTH_PLACES = {
    f"{end}{side}": (along, out)
    for end, along in (("mesio", -1), ("", 0), ("disto", 1))
    for side, out in (("buccal", 1), ("palatal", -1))
}


def mouth_svg(chart: Chart) -> str:
    """Return the drawing of a chart with its legend, an <svg> element that stands alone or in a
    page. The arch is that of the expected teeth; where others carry findings, they are drawn
    inside it, or in a place that it leaves free. Of the treatment only extractions are drawn."""
    svg = Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", fill="#111")
    svg.set("font-family", "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif")
    title = f"Teeth of the {chart.species}, seen from the front, and what was found on them"
    SubElement(svg, "title").text = title
    _write(svg, (-30, 0), "← animal’s right", "end")
    _write(svg, (30, 0), "animal’s left →")
    arch = chart.expected_teeth
    known = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    others = [tooth for tooth in known if tooth not in arch and _drawn(chart, tooth)]
    for tooth in (*arch, *others):
        _draw_tooth(svg, chart, tooth)
    half = half_height(chart.species) + _ROOM_FOR_LABELS
    svg.set("viewBox", f"-500 {-half} 1000 {half + _draw_legend(svg, chart, half + 30):.0f}")
    return tostring(svg, encoding="unicode")


def _drawn(chart: Chart, tooth: int) -> list[Finding]:
    """Return the findings on a tooth that are drawn, the weightiest first."""
    return sorted((each for each in chart.on(tooth) if _is_drawn(each)), key=weight)


def _is_drawn(finding: Finding) -> bool:
    if finding.row.section == "treatment":
        return finding.kind == "extracted"
    return finding.kind != "radiographed"


def _draw_tooth(parent: Element, chart: Chart, tooth: int) -> None:
    arch = chart.expected_teeth
    inside = tooth not in arch and other_dentition(tooth) in arch
    spot = spots(chart.species)[min(tooth, other_dentition(tooth))][inside]
    findings = _drawn(chart, tooth)
    words = "; ".join(each.words() for each in sorted(chart.on(tooth), key=weight))
    words = words or "not yet charted"
    group = SubElement(parent, "g", id=f"tooth-{tooth}")
    SubElement(group, "title").text = harmless(f"{tooth} {tooth_name(tooth)}: {words}")
    _draw_crown(group, spot, tooth_kind(tooth), findings)
    reach = _THICKNESS[tooth_kind(tooth)] / 2 + 15
    for finding in findings:
        along, out = _depth_place(finding)
        if out:
            spread = spot.room * (0.34 if out > 0 else 0.3)
            _draw_depth(group, spot.at(along * spread, out * reach), finding, chart)
    if inside:
        _write(group, spot[:2], str(tooth), "middle", 16)
    else:
        _draw_label(group, chart, tooth, spot, reach + 18)


def _depth_place(finding: Finding) -> tuple[int, int]:
    """Return where at the tooth a depth is written, -1 to 1 distally and outwards; (0, 0) for
    what stands in the label."""
    if finding.kind != "pocket":
        return 0, 0
    return _DEPTH_PLACES.get(same_place(finding.site) or "", (0, 0))


def _draw_crown(parent: Element, spot: Spot, kind: str, findings: list[Finding]) -> None:
    kinds = {finding.kind for finding in findings}
    absent = bool(kinds & {"missing", "unerupted"})
    hollow = absent or "extracted" in kinds
    crown = SubElement(parent, "path", d=_outline(_OUTLINES[kind], spot, kind))
    crown.set("fill", "#e2e2e2" if findings and not hollow else "none")
    crown.set("stroke", "#222" if findings else "#999")
    crown.set("stroke-width", "3" if findings else "1.5")
    crown.set("stroke-dasharray", "6 5" if absent else "none")
    marks = {"extracted"} if "extracted" in kinds else kinds & set(_MARKS)
    for mark in sorted(marks):
        sites = [finding.site or "" for finding in findings if finding.kind == mark]
        inside = mark == "furcation" and all(
            site.endswith(("palatal", "lingual")) for site in sites
        )
        drawn = SubElement(parent, "path", d=_outline(_MARKS[mark], spot, kind, inside))
        drawn.set("fill", "#fff" if mark == "resorption" else "none")
        drawn.set("stroke", "#111")
        drawn.set("stroke-width", "3.5")


def _outline(path: str, spot: Spot, kind: str, flip: bool = False) -> str:
    """Return a path of the unit box as it lies on the page."""
    width, thickness = spot.room * 0.9, _THICKNESS[kind] * (-1 if flip else 1)
    drawn = []
    for letter, numbers in re.findall(r"([A-Z])([^A-Z]*)", path):
        values = [float(number) for number in re.findall(r"-?\d*\.?\d+", numbers)]
        pairs = zip(values[::2], values[1::2], strict=True)
        points = (spot.at(along * width, out * thickness) for along, out in pairs)
        drawn.append(letter + " ".join(f"{x:.1f} {y:.1f}" for x, y in points))
    return "".join(drawn)


def _draw_depth(
    parent: Element, where: tuple[float, float], finding: Finding, chart: Chart
) -> None:
    """Write a depth in mm; one deeper than normal stands white in a black box."""
    words = value_words(finding)
    normal = chart.anatomy.normal_probing_depth_mm.most
    deep = isinstance(finding.value, int | float) and finding.value > normal
    if deep:
        width = 17 if len(words) < 3 else 23
        box = {"x": f"{where[0] - width / 2:.1f}", "y": f"{where[1] - 8.5:.1f}"}
        SubElement(parent, "rect", box, width=str(width), height="17", rx="3")
    size, ink = 20 if len(words) == 1 else 14, "#fff" if deep else "#111"
    _write(parent, where, words, "middle", size, ink)


def _draw_label(parent: Element, chart: Chart, tooth: int, spot: Spot, reach: float) -> None:
    """Write a tooth's number and the codes of its findings, then those of the tooth that stands
    inside it: beside it where the arch runs down the page, else above or below it."""
    codes = _label_codes(chart, tooth)
    right, down = spot.outward
    (x, y), across = spot.at(0, reach), abs(right) > 0.5
    anchor = ("start" if right > 0 else "end") if across else "middle"
    strength = "bold" if _drawn(chart, tooth) else "normal"
    _write(parent, (x, y), str(tooth), anchor, 20, weight=strength)
    lines, most = (wrap(" ".join(codes), 11), 3) if across else (codes, 5)
    if len(lines) > most:
        lines = [*lines[: most - 1], "…"]
    step = _LINE if across else copysign(_LINE, down)
    x, y = (x + copysign(42, right), y - (len(lines) - 1) / 2 * step) if across else (x, y + step)
    for row, line in enumerate(lines):
        _write(parent, (x, y + row * step), line, anchor)


def _label_codes(chart: Chart, tooth: int) -> list[str]:
    codes = [] if _drawn(chart, tooth) or tooth not in chart.skipped else ["skip"]
    for number in (tooth, other_dentition(tooth)):
        own = [_label_code(each) for each in _drawn(chart, number) if not _depth_place(each)[1]]
        codes += [f"{number}:"] * (bool(own) and number != tooth) + own
    return [code for code in codes if code]


def _label_code(finding: Finding) -> str:
    """Return code and site, such as "F2 mb", with no space to break a line at."""
    site = re.sub("(m|d|b|p)(esi|ist|ucc|alat)(al|o)", r"\1", same_place(finding.site) or "")
    return f"{code_of(finding)}\u00a0{site[:3]}" if site else code_of(finding)


def _write(
    parent: Element,
    where: tuple[float, float],
    words: str,
    anchor: str = "start",
    size: int = 19,
    ink: str = "#111",
    weight: str = "normal",
) -> None:
    """Write words whose figures stand on either side of the height of `where`."""
    text = SubElement(parent, "text", x=f"{where[0]:.1f}", y=f"{where[1] + size * 0.36:.1f}")
    text.attrib |= {"text-anchor": anchor, "font-size": str(size), "fill": ink}
    text.set("font-weight", weight)
    text.text = harmless(words)


def _draw_legend(parent: Element, chart: Chart, top: float) -> float:
    """Write what the marks and codes in use mean, from `top` down; return where that ends."""
    group = SubElement(parent, "g", id="legend")
    found = sorted(filter(_is_drawn, chart.findings), key=weight)
    gone = {finding.tooth for finding in found if finding.kind == "extracted"}
    kinds = {each.kind for each in found if each.kind == "extracted" or each.tooth not in gone}
    marks = [mark for mark in _MARK_WORDS if mark in {"", "normal", "missing"} | kinds]
    for number, mark in enumerate(marks):
        x, y = -450 + number % 5 * 200, top + number // 5 * 52
        findings = [Finding(tooth=0, kind=mark)] if mark else []
        _draw_crown(group, Spot(x, y, (1, 0), (0, -1), 48), "premolar", findings)
        _write(group, (x + 30, y), _MARK_WORDS[mark])
    top += ceil(len(marks) / 5) * 52
    normal = chart.anatomy.normal_probing_depth_mm.most
    for line in (
        f"Figures at a tooth: probing depth in mm; white on black: deeper than {normal:g} mm.",
        "Sites: m mesial, d distal, b buccal or labial, p palatal or lingual. … more in the table.",
    ):
        _write(group, (-480, top), line)
        top += 26
    codes = {
        code_of(finding, graded=False): _meaning(finding, chart.index_scale)
        for finding in found
        if not _depth_place(finding)[1] and code_of(finding)
    }
    rows = ceil(len(codes) / 2)
    for number, (code, words) in enumerate(codes.items()):
        x, y = -480 + number // rows * 490, top + number % rows * 24
        _write(group, (x, y), code, weight="bold")
        _write(group, (x + 66, y), words)
    return top + rows * 24


def _meaning(finding: Finding, index_scale: int) -> str:
    if finding.row.unit == "%":
        return f"{finding.row.title}, % of the root"
    meaning = code_meaning(finding, index_scale)
    typed = finding.kind == "resorption_type"
    return f"Resorption type: {meaning[:1].lower()}{meaning[1:]}" if typed else meaning
