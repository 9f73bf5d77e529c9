"""What the shapes and codes of a drawing mean: those in use and no others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.short import code_meaning, code_of, weight
from dictate.report.mouth import marks
from dictate.report.mouth.depths import MEASURES, at_a_site, row_height
from dictate.report.mouth.labels import in_a_label
from dictate.report.mouth.layout import Place, Style
from dictate.report.mouth.shapes import form_of
from dictate.report.mouth.sheet import INK, Look, View, draw, text_width, write
from dictate.report.mouth.tooth import State, draw_sample, state_of

_STATES: dict[State, str] = {
    "not charted": "not yet charted",
    "charted": "charted",
    "missing": "missing",
    "unerupted": "unerupted, drawn in the jaw",
    "root left": "root left in the jaw, crown gone",
    "extracted": "extracted",
}
_STAGES = {
    1: "furcation stage 1: under half of the way",
    2: "furcation stage 2: over half, not through",
    3: "furcation stage 3: through and through",
}
_GAP = 12.0

_MARKED = frozenset(
    {"fracture", "resorption", "pulp_exposure", "periapical_lucency", "furcation", "caries"}
)
"""Kinds of finding that have a mark on the tooth."""


class Item(NamedTuple):
    """A line of the legend: a code or the shape that is drawn instead, and the words."""

    sign: str | Callable[[Element, float, float], object]
    words: str


def draw_legend(
    parent: Element, chart: Chart, places: list[Place], top: float, style: Style
) -> float:
    """Draw the legend from a height of the page down and return where it ends."""
    group = SubElement(parent, "g", {"class": "legend"})
    for words in _notes(chart, places, style):
        for line in _wrapped(words, style.width - 20, style.letters):
            write(group, "note", (10, top + row_height(style) / 2), line, style.letters, "start")
            top += row_height(style)
    top += style.letters * 0.5
    items = [*_state_items(places, style), *_mark_items(places), *_code_items(chart, places)]
    return _draw_items(group, items, top, style)


def _draw_items(parent: Element, items: list[Item], top: float, style: Style) -> float:
    """Draw items in columns, read downwards."""
    column = (style.width - 20) / style.columns
    indent = style.letters * 3.5
    wrapped = [_wrapped(item.words, column - indent - _GAP, style.letters) for item in items]
    most = -(-sum(map(len, wrapped)) // style.columns)
    x, y, used, lowest, step = 10.0, top, 0, top, row_height(style) + 2
    for item, lines in zip(items, wrapped, strict=True):
        if used and used + len(lines) > most and x + column < style.width - 20:
            x, y, used = x + column, top, 0
        if isinstance(item.sign, str):
            write(parent, "code", (x, y + step / 2), item.sign, style.letters, "start", bold=True)
        else:
            item.sign(parent, x + indent / 2 - 8, y + step / 2)
        for line in lines:
            write(parent, "meaning", (x + indent, y + step / 2), line, style.letters, "start")
            y += step
        used += len(lines)
        lowest = max(lowest, y)
    return lowest


def _wrapped(words: str, room: float, size: float) -> list[str]:
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _notes(chart: Chart, places: list[Place], style: Style) -> Iterator[str]:
    found = [finding for place in places for finding in place.findings]
    normal = chart.anatomy.normal_probing_depth_mm.most
    if any(map(at_a_site, found)):
        yield (
            "Thick line: bottom of sulcus or pocket. Thin line: gum margin, at the necks where no "
            "recession or enlargement is charted. No line: not measured. Grid: 1 mm."
        )
        depths = "depths in mm, white on black" if style.all_figures else "dots and figures: depths"
        yield f"{depths[:1].upper()}{depths[1:]} where deeper than {normal:g} mm."
    if any(in_a_label(finding) and finding.site for finding in found):
        yield "Sites in codes: m mesial, d distal, b buccal or labial, p palatal or lingual."
    if any(finding.kind in _MARKED and not finding.site for finding in found):
        yield "A mark whose site was not named lies on the cheek side and tells no spot."
    if any(place.form.varies for place in places):
        yield "Roots that part low: one root or two, it varies."


def _state_items(places: list[Place], style: Style) -> Iterator[Item]:
    used = {state_of(place.kinds, place.findings) for place in places}
    form = form_of("dog", 106)

    def sign(state: State) -> Callable[[Element, float, float], object]:
        return lambda parent, x, y: draw_sample(
            parent, form, View(x, y, 1, 1, style.letters / 22, style.letters / 34), state
        )

    for state, words in _STATES.items():
        if state in used:
            yield Item(sign(state), words)


def _mark_items(places: list[Place]) -> Iterator[Item]:
    drawn = [
        finding
        for place in places
        if state_of(place.kinds, place.findings) in ("charted", "root left")
        for finding in place.findings
    ]
    kinds = {finding.kind for finding in drawn}
    for stage, words in _STAGES.items():
        if any(each.kind == "furcation" and each.value == stage for each in drawn):
            yield Item(_furcation_sign(stage), words)
    if "fracture" in kinds:
        yield Item(_jagged_sign, "fracture, where its class says")
    complicated = {"CCF", "CCRF"} & {str(each.value) for each in drawn if each.kind == "fracture"}
    deep = any(each.kind == "resorption" and each.value == 3 for each in drawn)
    if complicated or deep or "pulp_exposure" in kinds:
        yield Item(_pulp_sign, "pulp, where it is reached")
    if "resorption" in kinds:
        yield Item(_resorption_sign, "resorption, larger by stage")
    if "periapical_lucency" in kinds:
        yield Item(_lucency_sign, "lucency about the roots")
    if "caries" in kinds:
        yield Item(_caries_sign, "caries")


def _furcation_sign(stage: int) -> Callable[[Element, float, float], object]:
    return lambda parent, x, y: marks.draw_furcation(parent, (x, y), stage)


def _jagged_sign(parent: Element, x: float, y: float) -> None:
    path = f"M{x - 20:.1f} {y:.1f}l6 -5l8 10l8 -10l8 10l8 -10l4 5"
    draw(parent, "sign", path, fill="none", stroke=INK, stroke_width=3.2)


def _pulp_sign(parent: Element, x: float, y: float) -> None:
    path = f"M{x - 18:.1f} {y:.1f}Q{x:.1f} {y - 12:.1f} {x + 18:.1f} {y:.1f}"
    draw(parent, "sign", f"{path}Q{x:.1f} {y + 12:.1f} {x - 18:.1f} {y:.1f}Z", fill=INK)


def _resorption_sign(parent: Element, x: float, y: float) -> None:
    look: Look = {"fill": marks.RESORBED, "stroke": INK, "stroke_width": 2.0}
    draw(parent, "sign", marks.ragged(x, y, 22, 20), **look)


def _lucency_sign(parent: Element, x: float, y: float) -> None:
    path = f"M{x - 18:.1f} {y:.1f}a18 8 0 0 0 36 0a18 8 0 0 0 -36 0Z"
    look: Look = {"fill": "none", "stroke": INK, "stroke_width": 2.2, "stroke_dasharray": "5 3"}
    draw(parent, "sign", path, **look)


def _caries_sign(parent: Element, x: float, y: float) -> None:
    draw(parent, "sign", f"M{x - 5:.1f} {y:.1f}a5 5 0 0 0 10 0a5 5 0 0 0 -10 0Z", fill=INK)


def _code_items(chart: Chart, places: list[Place]) -> Iterator[Item]:
    found = sorted((each for place in places for each in place.findings), key=weight)
    if any(not place.findings and place.tooth in chart.skipped for place in places):
        yield Item("skip", "skipped")
    meanings: dict[str, str] = {}
    for finding in found:
        shown = finding.kind in MEASURES or in_a_label(finding)
        code = code_of(finding, graded=False)
        if shown and code:
            meanings.setdefault(code, _meaning(finding, chart.index_scale))
    yield from (Item(code, words) for code, words in meanings.items())


def _meaning(finding: Finding, index_scale: int) -> str:
    if finding.row.unit == "%":
        return f"{finding.row.title}, % of the root"
    return code_meaning(finding, index_scale)
