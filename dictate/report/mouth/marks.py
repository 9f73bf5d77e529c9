"""Marks on a tooth: fractures, pulp, resorption, furcations, what is gone.

The shapes are our own and lie where a finding is; how far it goes is told by its code in words.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element

from dictate.chart.finding import Finding
from dictate.chart.short import value_words
from dictate.report.mouth.shapes import Form, outline
from dictate.report.mouth.sheet import INK, Look, View, disc, draw, trace

PAPER, RESORBED = "#fff", "#b4b4b4"

Point = tuple[float, float]

_ACROSS = {"EF": (0.76, 0.84), "UCF": (0.5, 0.62), "CCF": (0.34, 0.44)}
"""How high on the crown a fracture line runs, mesially and distally, as shares of its height."""

_COMPLICATED = frozenset({"CCF", "CCRF"})

_SPINDLE = outline("M0-.5C-.5-.3-.6.2-.3.36L0 .5L.3.36C.6.2.5-.3 0-.5Z")
_BLOB = outline(
    "M-.5 0Q-.56-.28-.3-.3Q-.26-.56 0-.46Q.26-.56.3-.3Q.56-.26.46 0"
    "Q.56.28.3.3Q.26.56 0 .46Q-.28.56-.3.3Q-.56.28-.5 0Z"
)
_CROSS = outline("M-.4-.4L.4.4M-.4.4L.4-.4")
_STRUCK = outline("M-.36.5L.16-.5M-.16.5L.36-.5")

_BITES = {
    "1": (0.3, 0.0, 0.22),
    "2": (0.26, 0.0, 0.36),
    "3": (0.16, 0.0, 0.5),
    "4": (0.0, 0.0, 0.74),
    "4a": (0.0, 0.0, 0.74),
    "4b": (0.0, 0.4, 0.66),
}
"""Where resorption is drawn by stage: along the crown and above its neck as shares of its width
and height, and how large as a share of its width."""

_ROOT_BITES = {"4c": 0.36, "5": 0.5}
"""How far down each root resorption is drawn by stage, as a share of its length."""


def draw_fracture(parent: Element, view: View, form: Form, finding: Finding) -> None:
    """Draw a fracture as a jagged line where its class says that it is, and the pulp where it
    reaches that. One of no stated class has no line from the side."""
    kind, width = value_words(finding), form.width
    if kind in _COMPLICATED:
        _draw_pulp(parent, view, form, 0.42 * form.height)
    if kind in _ACROSS:
        low, high = (share * form.height for share in _ACROSS[kind])
        _draw_jagged(parent, view, (-0.42 * width, low), (0.46 * width, high))
    elif kind == "EI":
        tip = 0.94 * form.height
        _draw_jagged(parent, view, (-0.06 * width, tip), (0.02 * width, 0.3 * form.height), 2.0)
    elif kind in ("UCRF", "CCRF"):
        low = -0.3 * form.root_length
        _draw_jagged(parent, view, (-0.42 * width, 0.66 * form.height), (0.44 * width, low))
    elif kind == "RF":
        deep = -0.52 * form.root_length
        _draw_jagged(parent, view, (-0.5 * width, deep * 0.92), (0.5 * width, deep * 1.08))


def draw_broken_top(parent: Element, view: View, form: Form) -> None:
    """Draw a fracture on the crown from above."""
    low, high = -0.4 * form.thickness, 0.4 * form.thickness
    _draw_jagged(parent, view, (-0.14 * form.width, low), (0.14 * form.width, high), 2.6)


def _draw_jagged(parent: Element, view: View, start: Point, end: Point, thick: float = 3.2) -> None:
    steps, (right, up) = 6, (end[0] - start[0], end[1] - start[1])
    length = (right**2 + up**2) ** 0.5
    aside = min(4.5, length * 0.09 + 1)
    points = []
    for step in range(steps + 1):
        off = 0.0 if step in (0, steps) else (aside if step % 2 else -aside)
        share = step / steps
        u = start[0] + share * right - off * up / length
        v = start[1] + share * up + off * right / length
        points.append("{:.1f} {:.1f}".format(*view.at(u, v)))
    path = "M" + "L".join(points)
    look: Look = {"fill": "none", "stroke_linejoin": "miter"}
    draw(parent, "halo", path, stroke=PAPER, stroke_width=thick + 2.6, **look)
    draw(parent, "fracture", path, stroke=INK, stroke_width=thick, **look)


def draw_exposed_pulp(parent: Element, view: View, form: Form) -> None:
    """Draw the pulp up to the surface of the crown."""
    _draw_pulp(parent, view, form, 0.9 * form.height)


def _draw_pulp(parent: Element, view: View, form: Form, top: float) -> None:
    bottom = -0.3 * form.root_length if form.roots == 1 else -0.3 * form.furcation
    here = View(*view.at(0, (top + bottom) / 2), view.distal, view.up, view.across, view.along)
    width = min(0.22 * form.width, 9)
    draw(parent, "pulp", trace(_SPINDLE, here, width, top - bottom), fill=INK)


def draw_resorption(parent: Element, view: View, form: Form, finding: Finding) -> None:
    """Draw resorption as a ragged hollow, larger by stage, where the stage says that it is; the
    third reaches the pulp."""
    stage = value_words(finding)
    if stage == "3":
        _draw_pulp(parent, view, form, 0.4 * form.height)
    if stage in _ROOT_BITES:
        tips = form.tips()
        size = form.width * (0.7 if len(tips) == 1 else 0.42)
        for u, length in tips:
            share = _ROOT_BITES[stage]
            middle = u * (0.8 if len(tips) > 1 else share), -length * share
            _draw_ragged(parent, view, middle, size)
        return
    along, high, size = _BITES.get(stage, _BITES["4"])
    _draw_ragged(parent, view, (along * form.width, high * form.height), size * form.width)


def _draw_ragged(parent: Element, view: View, middle: Point, size: float) -> None:
    across = size * view.across
    path = ragged(*view.at(*middle), across, min(across, 46 * view.along))
    look: Look = {"fill": RESORBED, "stroke": INK, "stroke_width": 2.0}
    draw(parent, "resorption", path, **look)


def draw_furcation(
    parent: Element, middle: Point, grade: object, r: float = 9.0, kind: str = "furcation"
) -> None:
    """Draw the disc of a furcation: open, half full and full for stages 1, 2 and 3."""
    x, y = middle
    full = INK if grade == 3 else PAPER
    mark = disc(parent, kind, middle, r, fill=full, stroke=INK, stroke_width="2.4")
    mark.set("data-stage", str(grade))
    if grade == 2:
        half = f"M{x - r:.1f} {y:.1f}A{r:g} {r:g} 0 0 0 {x + r:.1f} {y:.1f}Z"
        draw(parent, "half", half, fill=INK)


def furcation_place(form: Form, site: str) -> Point:
    """Return where the disc of a furcation lies on a tooth seen from a side."""
    aside = -0.3 if site.startswith("mesi") else 0.3 if site.startswith("dist") else 0.0
    return aside * form.width, -form.furcation


def draw_lucency(parent: Element, view: View, form: Form) -> None:
    """Draw a lucency as a broken ring about the ends of the roots."""
    tips = form.tips()
    middle = view.at(sum(u for u, _ in tips) / len(tips), -form.root_length * 0.98)
    ring = disc(parent, "lucency", middle, 1, fill="none", stroke=INK, stroke_width="2.2")
    ring.tag = "ellipse"
    del ring.attrib["r"]
    half = (tips[-1][0] - tips[0][0]) / 2 * view.across + 11
    ring.attrib |= {"rx": f"{half:.1f}", "ry": "11", "stroke-dasharray": "5 3"}


def draw_cross(parent: Element, view: View, form: Form) -> None:
    """Cross out a crown from above: nothing stands there."""
    path = trace(_CROSS, view, form.width, form.thickness)
    draw(parent, "cross", path, stroke=INK, stroke_width=2.2)


def draw_struck(parent: Element, view: View, form: Form) -> None:
    """Strike a tooth from above through: extracted."""
    path = trace(_STRUCK, view, form.width, form.thickness * 1.1)
    draw(parent, "struck", path, stroke=INK, stroke_width=3.0)


def draw_struck_side(parent: Element, view: View, form: Form) -> None:
    """Strike a tooth from the side through, crown and roots: extracted."""
    height = form.height + form.root_length
    u, v = view.at(0, (form.height - form.root_length) / 2)
    here = View(u, v, view.distal, view.up, view.across, view.along)
    path = trace(_STRUCK, here, max(form.width, 34.0), height * 0.86)
    draw(parent, "struck", path, stroke=INK, stroke_width=3.0)


def draw_decay(parent: Element, view: View, form: Form) -> None:
    """Draw caries as a dark spot on the crown from above."""
    disc(parent, "caries", view.at(0.1 * form.width, 0.05 * form.thickness), 5.5, fill=INK)


def ragged(x: float, y: float, width: float, height: float) -> str:
    """Return the path of resorption about a point."""
    return trace(_BLOB, View(x, y, 1, 1), width, height)
