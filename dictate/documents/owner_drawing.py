"""A plain drawing of the mouth for owners: where the numbers of the sheet's list are.

The mouth is open and seen from the front: the animal's right is on the left of the page. Shapes and
sizes are drawn by eye and measure nothing. Nothing is told by colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import accumulate, pairwise
from math import atan2, cos, degrees, hypot, pi, sin
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from dictate.chart.anatomy import Species, anatomy_of, other_dentition, position, tooth_kind

_HALF_WIDTH, _DEPTH, _GAP, _MARGIN = 300, 400, 75, 150
_LENGTHS = {"incisor": 46, "canine": 62, "premolar": 70, "molar": 84}
"""Room along the arch by kind of tooth."""

_THICKNESS = {"incisor": 44, "canine": 52, "premolar": 46, "molar": 60}
_QUADRANTS = {1: (-1, -1), 2: (1, -1), 3: (1, 1), 4: (-1, 1)}
"""By quadrant, which way x and y of the page grow from the middle of the mouth."""

_WORDS = (
    (0, -260, "upper jaw"),
    (0, 260, "lower jaw"),
    (-300, 0, "right side"),
    (300, 0, "left side"),
)
"""Words in the drawing and the middle of each."""

CAPTION = (
    "The mouth wide open, seen from the front. A thick line and a number: see that number in the "
    "list. Crossed out: taken out. Dashed: not there."
)


class _Place(NamedTuple):
    x: float
    y: float
    turn: float
    out: tuple[float, float]


def owner_drawing(
    species: Species,
    teeth: Iterable[int],
    numbers: Mapping[int, Iterable[int]],
    taken_out: Iterable[int],
    absent: Iterable[int],
) -> str:
    """Return an SVG of the teeth of an arch with the numbers of the list that each belongs to;
    teeth of the other dentition stand at the place of theirs."""
    half_height = _DEPTH + _GAP + _MARGIN
    half_width = _HALF_WIDTH + _MARGIN
    svg = Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", fill="#111")
    svg.set("font-family", "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif")
    svg.set("viewBox", f"{-half_width} {-half_height} {2 * half_width} {2 * half_height}")
    SubElement(svg, "title").text = f"The teeth of a {species}, with the numbers of the list"
    for across, down, words in _WORDS:
        _write(svg, across, down, words, 38, "normal")
    gone, lacking = set(taken_out), set(absent)
    marked: dict[int, set[int]] = {}
    for tooth, of in numbers.items():
        marked.setdefault(tooth, set()).update(of)
    for place, spot in _places(species).items():
        here = (place, other_dentition(place))
        drawn = next((tooth for tooth in here if tooth in set(teeth)), place)
        labels = sorted({number for tooth in here for number in marked.get(tooth, ())})
        _draw(svg, spot, tooth_kind(place), bool(labels), drawn in gone, drawn in lacking)
        if labels:
            x, y = (at + 62 * way for at, way in zip(spot[:2], spot.out, strict=True))
            _write(svg, x, y, ", ".join(map(str, labels)), 42, "bold", _anchor(spot.out[0]))
    return tostring(svg, encoding="unicode")


def _places(species: Species) -> dict[int, _Place]:
    """Return where every permanent tooth stands, along half ellipses."""
    places = {}
    for quadrant, (right, low) in _QUADRANTS.items():
        teeth = sorted(
            (t for t in anatomy_of(species).permanent_teeth if t // 100 == quadrant), key=position
        )
        lengths = [_LENGTHS[tooth_kind(tooth)] for tooth in teeth]
        for tooth, length, end in zip(teeth, lengths, accumulate(lengths), strict=True):
            angle = _angle((end - length / 2) / sum(lengths))
            x, y = _HALF_WIDTH * sin(angle), _DEPTH * cos(angle)
            across, down = sin(angle) / _HALF_WIDTH, cos(angle) / _DEPTH
            size = hypot(across, down)
            out = (right * across / size, low * down / size)
            turn = degrees(atan2(out[1], out[0])) + 90
            places[tooth] = _Place(right * x, low * (y + _GAP), turn, out)
    return places


def _angle(share: float) -> float:
    """Return the angle from the midline at which a share of a quarter ellipse's length ends."""
    steps = [pi / 2 * step / 200 for step in range(201)]
    lengths = [0.0]
    for before, after in pairwise(steps):
        across = _HALF_WIDTH * (sin(after) - sin(before))
        lengths.append(lengths[-1] + hypot(across, _DEPTH * (cos(after) - cos(before))))
    wanted = share * lengths[-1]
    return next(angle for angle, length in zip(steps, lengths, strict=True) if length >= wanted)


def _draw(
    parent: Element, spot: _Place, kind: str, marked: bool, taken_out: bool, absent: bool
) -> None:
    width, height = _LENGTHS[kind] * 0.8, _THICKNESS[kind]
    shape = SubElement(
        parent,
        "rect",
        x=f"{-width / 2:.1f}",
        y=f"{-height / 2:.1f}",
        width=f"{width:.1f}",
        height=f"{height:.1f}",
        rx=f"{min(width, height) * 0.42:.1f}",
        transform=f"translate({spot.x:.1f} {spot.y:.1f}) rotate({spot.turn:.1f})",
        fill="#fff",
        stroke="#111" if marked or taken_out else "#777",
    )
    shape.set("stroke-width", "6" if marked else "2.5")
    shape.set("stroke-dasharray", "10 8" if absent else "none")
    if taken_out:
        x, y, half = spot.x, spot.y, 22
        start, across = f"M{x - half:.1f} {y - half:.1f}", f"l{2 * half} {2 * half}"
        cross = f"{start}{across}m0 {-2 * half}l{-2 * half} {2 * half}"
        SubElement(parent, "path", d=cross, stroke="#111", fill="none").set("stroke-width", "6")


def _anchor(across: float) -> str:
    if abs(across) < 0.4:
        return "middle"
    return "start" if across > 0 else "end"


def _write(
    parent: Element,
    x: float,
    y: float,
    words: str,
    size: int,
    weight: str,
    anchor: str = "middle",
) -> None:
    text = SubElement(parent, "text", x=f"{x:.1f}", y=f"{y + size * 0.36:.1f}")
    text.attrib |= {"text-anchor": anchor, "font-size": str(size), "font-weight": weight}
    text.text = words
