"""A tooth from its two sides and from above, with what was found on it."""

from __future__ import annotations

from typing import Literal
from xml.etree.ElementTree import Element, SubElement

from dictate.chart.finding import Finding
from dictate.chart.kinds import ROOT_KINDS
from dictate.report.mouth import marks
from dictate.report.mouth.layout import Place, Side
from dictate.report.mouth.shapes import Form, outline
from dictate.report.mouth.sheet import INK, SOFT, Look, View, draw, trace

State = Literal["not charted", "charted", "missing", "unerupted", "root left", "extracted"]

_ROOT, _GHOST, _DOTS = "#ededed", "7 5", "2 4"
_BURIED = 0.6


def state_of(kinds: frozenset[str], findings: tuple[Finding, ...] = ()) -> State:
    """Return how a tooth with these kinds of finding is drawn."""
    if "extracted" in kinds:
        return "extracted"
    remnants = any(each.kind == "resorption" and each.value == 5 for each in findings)
    if kinds & ROOT_KINDS or remnants:
        return "root left"
    if "unerupted" in kinds:
        return "unerupted"
    if "missing" in kinds:
        return "missing"
    return "charted" if kinds else "not charted"


def draw_top(parent: Element, place: Place, view: View) -> None:
    """Draw a tooth from above."""
    group = SubElement(parent, "g", {"class": "top"})
    form, kinds = place.form, place.kinds
    state = state_of(kinds, place.findings)
    path = trace(form.top, view, form.width, form.thickness)
    draw(group, "crown", path, **_crown_look(state))
    if state in ("charted", "not charted"):
        edges = trace(form.lines, view, form.width, form.thickness)
        ink = "#777" if state == "charted" else "#b4b4b4"
        draw(group, "lines", edges, fill="none", stroke=ink, stroke_width=1.3)
    if state == "extracted":
        marks.draw_struck(group, view, form)
    elif state == "missing":
        marks.draw_cross(group, view, form)
    elif state != "unerupted":
        if "fracture" in kinds and _breaks_crown(place.findings):
            marks.draw_broken_top(group, view, form)
        if "caries" in kinds:
            marks.draw_decay(group, view, form)


def _breaks_crown(findings: tuple[Finding, ...]) -> bool:
    return any(each.kind == "fracture" and each.value != "RF" for each in findings)


def draw_side(parent: Element, place: Place, view: View, side: Side) -> None:
    """Draw a tooth from its outer or inner side: crown and roots, and the marks on them."""
    group = SubElement(parent, "g", {"class": side, "data-roots": str(place.form.roots)})
    state = state_of(place.kinds, place.findings)
    if state == "unerupted":
        tip = -8 - place.form.height * _BURIED
        buried = View(*view.at(0, tip), view.distal, view.up, view.across, view.along * _BURIED)
        _draw_roots(group, place.form, buried, side, state)
        _draw_crown(group, place.form, buried, state)
        return
    if state != "missing":
        _draw_roots(group, place.form, view, side, state)
    _draw_crown(group, place.form, view, state)
    if state == "extracted":
        marks.draw_struck_side(group, view, place.form)


def draw_sample(parent: Element, form: Form, view: View, state: State) -> None:
    """Draw a small tooth in one of its states, for the legend: its root where that is left, else
    its crown from above."""
    if state == "root left":
        low = view._replace(up=-1, along=view.along * 0.34)
        _draw_roots(parent, form, low._replace(y=low.y - 7), "outer", state)
        _draw_crown(parent, form, low._replace(y=low.y - 7, along=low.along * 0.8), state)
        return
    path = trace(form.top, view, form.width, form.thickness)
    draw(parent, "crown", path, **_crown_look(state))
    if state == "extracted":
        marks.draw_struck(parent, view, form)
    elif state == "missing":
        marks.draw_cross(parent, view, form)


def _draw_crown(parent: Element, form: Form, view: View, state: State) -> None:
    path = trace(form.side, view, form.width, form.height)
    draw(parent, "crown", path, stroke_linejoin="round", **_crown_look(state))


def _crown_look(state: State) -> Look:
    match state:
        case "charted":
            return {"fill": "#fff", "stroke": INK, "stroke_width": 2.2}
        case "unerupted":
            return {"fill": "none", "stroke": INK, "stroke_width": 1.8, "stroke_dasharray": _DOTS}
        case "missing" | "root left":
            return {"fill": "none", "stroke": SOFT, "stroke_width": 1.8, "stroke_dasharray": _GHOST}
        case _:
            return {"fill": "#fff", "stroke": SOFT, "stroke_width": 1.3}


def _root_look(state: State) -> Look:
    if state in ("charted", "root left"):
        return {"fill": _ROOT, "stroke": INK, "stroke_width": 1.7}
    if state == "unerupted":
        return _crown_look(state)
    return {"fill": "#fff", "stroke": SOFT, "stroke_width": 1.1}


def _draw_roots(parent: Element, form: Form, view: View, side: Side, state: State) -> None:
    """Draw the roots; the palatal one of three is behind from the cheek, in front from inside."""
    down = view._replace(up=-view.up)
    look = _root_look(state)
    behind = look | {"fill": "#fff", "stroke": SOFT, "stroke_width": 1.2}
    order = [("roots", form.front_roots(), look)]
    if form.roots == 3 and side == "outer":
        order.insert(0, ("third-root", form.third_root(), behind))
    elif form.roots == 3:
        order = [("roots", form.front_roots(), behind), ("third-root", form.third_root(), look)]
    for kind, path, looks in order:
        draw(parent, kind, trace(outline(path), down), **looks)


def draw_marks(parent: Element, place: Place, view: View, side: Side) -> None:
    """Draw what was found on a side of a tooth that stands in the mouth or has left a root there;
    what is said of the whole tooth is drawn on its outer side. It lies over the lines of the
    depths."""
    if state_of(place.kinds, place.findings) not in ("charted", "root left"):
        return
    group = SubElement(parent, "g", {"class": "marks", "data-tooth": str(place.tooth)})
    group.set("data-side", side)
    form = place.form
    for finding in reversed(place.findings):
        if side_of(finding) != side:
            continue
        match finding.kind:
            case "fracture":
                marks.draw_fracture(group, view, form, finding)
            case "pulp_exposure":
                marks.draw_exposed_pulp(group, view, form)
            case "resorption":
                marks.draw_resorption(group, view, form, finding)
            case "periapical_lucency":
                marks.draw_lucency(group, view, form)
            case "furcation":
                where = marks.furcation_place(form, finding.site or "")
                marks.draw_furcation(group, view.at(*where), finding.value)


def side_of(finding: Finding) -> Side:
    """Return the side of a tooth on which a finding is drawn; what is said of no side is drawn on
    the outer one."""
    return "inner" if (finding.site or "").endswith(("palatal", "lingual")) else "outer"
