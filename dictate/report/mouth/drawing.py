"""The mouth as a drawing (SVG): every tooth in its place, with what was found on it.

One generator for the page, the printed record and the picture. The arches are laid straight and
seen from the front: the animal's right is on the left of the page, the upper jaw above the lower.
Nothing is told by colour, and no finding on a tooth is left out: rows grow until all codes have
room. Shapes and sizes of teeth are drawn by eye and measure nothing; only the lines of the probing
depths are to scale, in the grid of their own band.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from dictate.chart.anatomy import tooth_name
from dictate.chart.chart import Chart
from dictate.chart.short import weight
from dictate.report.mouth.depths import (
    Figures,
    Site,
    at_a_site,
    draw_figures,
    draw_grid,
    draw_lines,
    figures_of,
    millimetre,
    row_height,
    sites_along,
)
from dictate.report.mouth.labels import Labels, labels_of, numbers_of
from dictate.report.mouth.layout import STYLES, Jaw, Mode, Place, Side, Style, places
from dictate.report.mouth.legend import draw_legend
from dictate.report.mouth.sheet import FONTS, INK, SOFT, View, draw, write
from dictate.report.mouth.tooth import draw_marks, draw_side, draw_top
from dictate.text import harmless

_SIDES: tuple[Side, Side] = ("outer", "inner")
_GAP = 6.0


class _Band(NamedTuple):
    """A jaw before it is drawn: its teeth, what was measured, and what is written."""

    jaw: Jaw
    places: list[Place]
    sites: dict[Side, list[Site]]
    figures: dict[Side, Figures]
    numbers: Labels
    labels: Labels


class _Heights(NamedTuple):
    """Where the parts of a jaw stand, in y; `down` is 1 where its labels are above it and -1
    where they are below."""

    down: int
    labels: float
    numbers: float
    figures: dict[Side, float]
    necks: dict[Side, float]
    top: float
    low: float
    high: float


def mouth_svg(chart: Chart, mode: Mode = "overview") -> str:
    """Return the drawing of a chart with its legend, an <svg> element that stands alone or in a
    page and needs nothing outside it.

    An "overview" is 10 cm wide and has figures only at depths that are deeper than normal; a
    "detailed" drawing is 18 cm wide and has all figures. The arch is that of the expected teeth;
    others that carry findings stand beside their neighbour. Of the treatment only extractions are
    drawn.
    """
    style = STYLES[mode]
    bands = [_band(chart, jaw, style) for jaw in ("upper", "lower")]
    svg = _frame(chart, bands)
    mm = millimetre((s for band in bands for side in _SIDES for s in band.sites[side]), style)
    y = row_height(style) + 4
    left, right = style.margin, style.width - style.margin
    write(svg, "side-of-animal", (left, y / 2), "animal’s right", style.letters, "start")
    write(svg, "side-of-animal", (right, y / 2), "animal’s left", style.letters, "end")
    for band in bands:
        heights = _heights(band, y, style)
        _draw_jaw(svg, chart, band, heights, mm, style)
        y = heights.high + 3 * _GAP
    everything = [place for band in bands for place in band.places]
    end = draw_legend(svg, chart, everything, y, style) + 4
    svg.set("viewBox", f"0 0 {style.width:g} {end:.0f}")
    svg.attrib |= {"width": f"{style.width / 10:g}mm", "height": f"{end / 10:.1f}mm"}
    return tostring(svg, encoding="unicode")


def _frame(chart: Chart, bands: Iterable[_Band]) -> Element:
    svg = Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", fill=INK)
    svg.set("font-family", FONTS)
    title = f"Teeth of the {chart.species}, seen from the front, and what was found on them"
    SubElement(svg, "title").text = title
    teeth = [place.tooth for band in bands for place in band.places]
    charted = [tooth for tooth in teeth if chart.on(tooth)]
    found = [f"{_all_words(chart, tooth)}." for tooth in charted]
    empty = f"Not yet charted: {len(teeth) - len(charted)} of {len(teeth)} teeth."
    SubElement(svg, "desc").text = harmless(" ".join([empty, *found]))
    return svg


def _all_words(chart: Chart, tooth: int) -> str:
    words = "; ".join(each.words() for each in sorted(chart.on(tooth), key=weight))
    return f"{tooth} {tooth_name(tooth)}: {words or 'not yet charted'}"


def _band(chart: Chart, jaw: Jaw, style: Style) -> _Band:
    teeth = places(chart, jaw, style)
    sites = {side: sites_along(teeth, side) for side in _SIDES}
    figures = {side: figures_of(sites[side], chart, style) for side in _SIDES}
    return _Band(
        jaw, teeth, sites, figures, numbers_of(teeth, style), labels_of(teeth, chart, style)
    )


def _heights(band: _Band, start: float, style: Style) -> _Heights:
    """Return the heights of a jaw that begins at `start`: from its labels to the inner figures
    in an upper jaw, the other way round in a lower one."""
    row = row_height(style)
    labels = band.labels.rows * row
    numbers = labels + band.numbers.rows * row + 2
    outer = numbers + band.figures["outer"].rows * row + 2
    neck = outer + style.reach
    top = neck + style.crown + style.top / 2
    inner_neck = top + style.top / 2 + style.crown
    inner = inner_neck + style.reach
    end = inner + band.figures["inner"].rows * row + 2
    down = 1 if band.jaw == "upper" else -1

    def y(depth: float) -> float:
        return start + depth if down > 0 else start + end - depth

    return _Heights(
        down,
        y(labels),
        y(numbers),
        {"outer": y(outer), "inner": y(inner)},
        {"outer": y(neck), "inner": y(inner_neck)},
        y(top),
        start,
        start + end,
    )


def _draw_jaw(
    parent: Element, chart: Chart, band: _Band, heights: _Heights, mm: float, style: Style
) -> None:
    group = SubElement(parent, "g", {"class": "jaw", "data-jaw": band.jaw})
    measured = any(at_a_site(each) for place in band.places for each in place.findings)
    middle = style.width / 2
    line = f"M{middle:g} {heights.figures['outer']:.1f}V{heights.figures['inner']:.1f}"
    draw(group, "midline", line, stroke=SOFT, stroke_width=1.2, stroke_dasharray="2 6")
    away = {"outer": -heights.down, "inner": heights.down}
    if measured:
        for side in _SIDES:
            draw_grid(group, heights.necks[side], away[side], mm, style)
    for place in band.places:
        _draw_place(group, chart, place, heights, style)
    normal = chart.anatomy.normal_probing_depth_mm.most
    for side in _SIDES:
        neck, toward = heights.necks[side], away[side] * mm
        draw_lines(group, band.sites[side], (band.jaw, side), neck, toward, normal)
        for place in band.places:
            draw_marks(group, place, _view(place, heights, side, style), side)
        draw_figures(group, band.figures[side], heights.figures[side], away[side], style, chart)
    _draw_words(group, band, heights, style)
    _draw_names(group, band.jaw, heights, style)


def _draw_place(
    parent: Element, chart: Chart, place: Place, heights: _Heights, style: Style
) -> None:
    group = SubElement(parent, "g", {"class": "tooth", "data-tooth": str(place.tooth)})
    SubElement(group, "title").text = harmless(_all_words(chart, place.tooth))
    for side in _SIDES:
        draw_side(group, place, _view(place, heights, side, style), side)
    draw_top(group, place, place.view(heights.top, -heights.down, style.tall))


def _view(place: Place, heights: _Heights, side: Side, style: Style) -> View:
    up = heights.down if side == "outer" else -heights.down
    return place.view(heights.necks[side], up, style.tall)


def _draw_words(parent: Element, band: _Band, heights: _Heights, style: Style) -> None:
    for kind, words, start in (
        ("number", band.numbers, heights.numbers),
        ("label", band.labels, heights.labels),
    ):
        for each in words.labels:
            y = start - heights.down * (each.row + 0.5) * row_height(style)
            text = write(parent, kind, (each.x, y), each.words, style.letters, bold=each.bold)
            text.set("data-tooth", str(each.tooth))


def _draw_names(parent: Element, jaw: Jaw, heights: _Heights, style: Style) -> None:
    """Name the two sides of a jaw, on their side beside the crowns."""
    names = {"outer": "cheek", "inner": "palate" if jaw == "upper" else "tongue"}
    for side in _SIDES:
        up = heights.down if side == "outer" else -heights.down
        x, y = style.letters * 0.45, heights.necks[side] + up * style.crown / 2
        text = write(parent, "side", (x, y), names[side], style.letters, ink="#555")
        text.set("transform", f"rotate(-90 {x:.1f} {y:.1f})")
