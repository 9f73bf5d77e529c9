"""The mouth as a drawing (SVG): every tooth in its place, with what was found on it.

The mouth is open and seen from the front: the animal's right is on the left of the page, the
upper arch above the lower, cheek side outwards. One unit is 0.1 mm when the drawing is 10 cm
wide. Nothing is told by colour. Shapes and sizes are drawn by eye and measure nothing.
"""

from __future__ import annotations

import re
from bisect import bisect
from functools import cache
from itertools import accumulate, pairwise
from math import ceil, copysign, cos, dist, pi, sin
from textwrap import wrap
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from dictate.chart.anatomy import Species, is_deciduous, tooth_kind, tooth_name
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding, same_place
from dictate.chart.short import code_meaning, code_of, value_words, weight
from dictate.text import harmless

_ROOM: dict[Species, tuple[dict[int, int], dict[int, int]]] = {
    "dog": (
        {1: 50, 2: 50, 3: 54, 4: 70, 5: 52, 6: 58, 7: 64, 8: 96, 9: 82, 10: 62},
        {1: 48, 2: 48, 3: 50, 4: 68, 5: 52, 6: 56, 7: 60, 8: 66, 9: 98, 10: 62, 11: 52},
    ),
    "cat": (
        {1: 48, 2: 48, 3: 50, 4: 74, 6: 56, 7: 76, 8: 98, 9: 54},
        {1: 48, 2: 48, 3: 50, 4: 74, 7: 80, 8: 84, 9: 96},
    ),
}
"""Room along the arch by position, upper and lower; each row is stretched to fill its arch."""

_ARCH_DEPTH: dict[Species, int] = {"dog": 500, "cat": 330}
_ARCH_HALF_WIDTH, _SQUARENESS, _HALF_GAP, _ROOM_FOR_LABELS, _LINE = 288, 2.6, 40, 160, 20

_QUADRANTS = {1: (0, -1, -1), 2: (0, 1, -1), 3: (1, 1, 1), 4: (1, -1, 1)}
"""By quadrant: its jaw in `_ROOM`, then which way x and y of the page grow from the middle."""

_OUTLINES = {
    "incisor": "M-.3-.5Q0-.66.3-.5L.5.34Q.5.5.3.52Q0 .6-.3.52Q-.5.5-.5.34Z",
    "canine": "M-.5 0C-.5.7.1.62.5 0C.1-.62-.5-.7-.5 0Z",
    "premolar": "M-.5 0C-.42.34-.2.5 0 .5C.2.5.42.34.5 0C.42-.34.2-.5 0-.5C-.2-.5-.42-.34-.5 0Z",
    "molar": "M-.5-.2Q-.5-.5-.27-.5Q0-.36.27-.5Q.5-.5.5-.2L.5.2Q.5.5.27.5Q0 .36-.27.5Q-.5.5-.5.2Z",
}
"""Outlines in a box of 1 by 1: x from mesial to distal, y from tongue or palate to cheek."""

_MARKS = {
    "missing": "M-.4-.4L.4.4M-.4.4L.4-.4",
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


class Spot(NamedTuple):
    """Where a tooth stands: its middle, the directions away from the midline along the arch and
    towards the cheek (unit vectors), and its room along the arch."""

    x: float
    y: float
    distal: tuple[float, float]
    outward: tuple[float, float]
    room: float

    def at(self, along: float, out: float) -> tuple[float, float]:
        """Return the point so far distally and so far outwards from the middle."""
        return (
            self.x + along * self.distal[0] + out * self.outward[0],
            self.y + along * self.distal[1] + out * self.outward[1],
        )


def mouth_svg(chart: Chart) -> str:
    """Return the drawing of a chart with its legend, an <svg> element that stands alone or in a
    page. Deciduous teeth are drawn, inside the arch, where they carry findings."""
    svg = Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", fill="#111")
    svg.set("font-family", "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif")
    title = f"Teeth of the {chart.species}, seen from the front, and what was found on them"
    SubElement(svg, "title").text = title
    _write(svg, (-30, 0), "← animal’s right", "end")
    _write(svg, (30, 0), "animal’s left →")
    deciduous = [tooth for tooth in chart.anatomy.deciduous_teeth if chart.on(tooth)]
    for tooth in (*chart.anatomy.permanent_teeth, *deciduous):
        _draw_tooth(svg, chart, tooth, _spots(chart.species)[tooth])
    half = _ARCH_DEPTH[chart.species] + _HALF_GAP + _ROOM_FOR_LABELS
    svg.set("viewBox", f"-500 {-half} 1000 {half + _draw_legend(svg, chart, half + 30):.0f}")
    return tostring(svg, encoding="unicode")


@cache
def _spots(species: Species) -> dict[int, Spot]:
    """Return the spot of every tooth; a deciduous one is inside its permanent successor."""
    points = _quarter_arch(_ARCH_DEPTH[species])
    run = [0.0, *accumulate(dist(one, other) for one, other in pairwise(points))]
    spots = {}
    for quadrant, (jaw, right, low) in _QUADRANTS.items():
        room = _ROOM[species][jaw]
        stretch = run[-1] / sum(room.values())
        for place, end in zip(room, accumulate(room.values()), strict=True):
            middle = bisect(run, (end - room[place] / 2) * stretch)
            (x, y), there = points[middle - 1], points[middle]
            length = dist((x, y), there)
            across, down = (there[0] - x) / length, (y - there[1]) / length
            spot = Spot(
                right * x,
                low * (y + _HALF_GAP),
                (right * across, -low * down),
                (right * down, low * across),
                room[place] * stretch,
            )
            spots[quadrant * 100 + place] = spot
            inside = spot.at(0, -92)
            spots[quadrant * 100 + 400 + place] = Spot(*inside, *spot[2:4], spot.room * 0.7)
    return spots


def _quarter_arch(depth: int) -> list[tuple[float, float]]:
    """Return points from the midline to the last molar, y upwards: a quarter of Lamé's curve,
    flat at the incisors and straight along the cheek teeth."""
    turns = [step * pi / 3200 for step in range(1601)]
    power = 2 / _SQUARENESS
    return [
        (_ARCH_HALF_WIDTH * sin(turn) ** power, depth * max(0.0, cos(turn)) ** power)
        for turn in turns
    ]


def _draw_tooth(parent: Element, chart: Chart, tooth: int, spot: Spot) -> None:
    findings = sorted(chart.on(tooth), key=weight)
    words = "; ".join(finding.words() for finding in findings) or "not yet charted"
    group = SubElement(parent, "g", id=f"tooth-{tooth}")
    SubElement(group, "title").text = harmless(f"{tooth} {tooth_name(tooth)}: {words}")
    _draw_crown(group, spot, tooth_kind(tooth), findings)
    reach = _THICKNESS[tooth_kind(tooth)] / 2 + 15
    for finding in findings:
        along, out = _depth_place(finding)
        if out:
            spread = spot.room * (0.34 if out > 0 else 0.3)
            _draw_depth(group, spot.at(along * spread, out * reach), finding, chart)
    if is_deciduous(tooth):
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
    hollow = bool(kinds & {"missing", "unerupted"})
    crown = SubElement(parent, "path", d=_outline(_OUTLINES[kind], spot, kind))
    crown.set("fill", "#e2e2e2" if findings and not hollow else "none")
    crown.set("stroke", "#222" if findings else "#999")
    crown.set("stroke-width", "3" if findings else "1.5")
    crown.set("stroke-dasharray", "6 5" if hollow else "none")
    for mark in sorted(kinds & set(_MARKS)):
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
    """Write a tooth's number and the codes of its findings, then those of the deciduous tooth
    at the same place: beside it where the arch runs down the page, else above or below it."""
    codes = _label_codes(chart, tooth)
    right, down = spot.outward
    (x, y), across = spot.at(0, reach), abs(right) > 0.5
    anchor = ("start" if right > 0 else "end") if across else "middle"
    strength = "bold" if chart.on(tooth) else "normal"
    _write(parent, (x, y), str(tooth), anchor, 20, weight=strength)
    lines, most = (wrap(" ".join(codes), 11), 3) if across else (codes, 5)
    if len(lines) > most:
        lines = [*lines[: most - 1], "…"]
    step = _LINE if across else copysign(_LINE, down)
    x, y = (x + copysign(42, right), y - (len(lines) - 1) / 2 * step) if across else (x, y + step)
    for row, line in enumerate(lines):
        _write(parent, (x, y + row * step), line, anchor)


def _label_codes(chart: Chart, tooth: int) -> list[str]:
    codes = [] if chart.on(tooth) or tooth not in chart.skipped else ["skip"]
    for number in (tooth, tooth + 400):
        findings = sorted(chart.on(number), key=weight)
        own = [_label_code(each) for each in findings if not _depth_place(each)[1]]
        codes += [f"{number}:"] * (bool(own) and is_deciduous(number)) + own
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
    kinds = {finding.kind for finding in chart.findings}
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
        code_of(finding, graded=False): code_meaning(finding, chart.index_scale)
        for finding in sorted(chart.findings, key=weight)
        if not _depth_place(finding)[1] and code_of(finding)
    }
    rows = ceil(len(codes) / 2)
    for number, (code, words) in enumerate(codes.items()):
        x, y = -480 + number // rows * 490, top + number % rows * 24
        _write(group, (x, y), code, weight="bold")
        _write(group, (x + 66, y), words)
    return top + rows * 24
