"""Probing depths as lines along each side of an arch, over a grid of millimetres.

The thin line is the gum margin, the thick one the bottom of the sulcus or pocket. Both are measured
from the necks of the teeth, which stand on one line: recession moves the margin towards the roots,
enlargement towards the crown, and the depth counts from the margin. A line joins neighbouring sites
that were measured and is never drawn over one that was not.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement

from dictate.chart.chart import Chart
from dictate.chart.finding import SIX_SITES, Finding, same_place
from dictate.chart.short import value_words
from dictate.report.mouth.layout import Jaw, Place, Side, Style
from dictate.report.mouth.sheet import FAINT, INK, Look, Rows, disc, draw, text_width, write

MEASURES = ("pocket", "recession", "enlargement")
"""What is measured at a site, in mm."""

_SITES: dict[Side, tuple[str, ...]] = {"outer": SIX_SITES[:3], "inner": SIX_SITES[3:]}
_APART = 0.33
"""How far from the middle of a tooth its mesial and distal sites stand, as a share of its room."""

_BAND_MM, _LABELLED_MM = 12, 5

_GUM: Look = {"fill": "none", "stroke": "#333", "stroke_width": 2.4}
_BOTTOM: Look = {"fill": "none", "stroke": INK, "stroke_width": 3.8, "stroke_linejoin": "round"}


class Site(NamedTuple):
    """What was measured at a site: its place in x and its measures by kind. `alone` where its
    tooth stands beside the arch, so that no line leads to its neighbours."""

    tooth: int
    name: str
    x: float
    measured: dict[str, Finding]
    alone: bool

    @property
    def margin_mm(self) -> float | None:
        """How far the gum margin stands from the neck, towards the roots; None where nothing
        was measured. It stands at the neck where neither recession nor enlargement is charted."""
        return self.mm("recession") - self.mm("enlargement") if self.measured else None

    @property
    def bottom_mm(self) -> float | None:
        """How far the bottom of sulcus or pocket is from the neck; None: no depth measured."""
        return (self.margin_mm or 0) + self.mm("pocket") if "pocket" in self.measured else None

    def mm(self, kind: str) -> float:
        """Return a measure in mm, 0 where it is not charted."""
        value = self.measured[kind].value if kind in self.measured else 0
        return float(value) if isinstance(value, int | float) else 0.0


def at_a_site(finding: Finding) -> bool:
    """Return whether a finding is measured at one of the six sites."""
    return finding.kind in MEASURES and same_place(finding.site) in SIX_SITES


def sites_along(places: Iterable[Place], side: Side) -> list[Site]:
    """Return the sites of a side of an arch from left to right, measured or not."""
    sites: list[Site] = []
    for place in places:
        by_name: dict[str, dict[str, Finding]] = {}
        for finding in filter(at_a_site, place.findings):
            by_name.setdefault(same_place(finding.site) or "", {})[finding.kind] = finding
        three = [
            Site(
                place.tooth,
                name,
                place.x + place.distal * along * _APART * place.room,
                by_name.get(name, {}),
                place.beside,
            )
            for name, along in zip(_SITES[side], (-1, 0, 1), strict=True)
        ]
        sites += three if place.distal > 0 else reversed(three)
    return sites


def millimetre(sites: Iterable[Site], style: Style) -> float:
    """Return the length of a millimetre in the bands: all of one drawing have the same, and what
    lies deepest or highest has room."""
    reach, crown = style.reach - 8, style.crown - 4
    far, high = float(_BAND_MM), 1.0
    for site in sites:
        far = max(far, site.bottom_mm or 0, site.margin_mm or 0)
        high = max(high, -(site.margin_mm or 0))
    return min(reach / far, crown / high)


def draw_grid(parent: Element, neck: float, away: int, mm: float, style: Style) -> None:
    """Draw the lines of the millimetres from the necks towards the roots, `away` (1 or -1)."""
    group = SubElement(parent, "g", {"class": "grid"})
    every = _LABELLED_MM if _LABELLED_MM * mm > style.letters else 2 * _LABELLED_MM
    left, right = style.margin - 4, style.width - style.margin + 4
    for depth in range(int(style.reach / mm) + 1):
        y = neck + away * depth * mm
        labelled = depth % every == 0
        look: Look = {
            "stroke": "#a8a8a8" if labelled else FAINT,
            "stroke_width": 1.6 if labelled else 1.0,
        }
        draw(group, "mm", f"M{left:.1f} {y:.1f}H{right:.1f}", **look)
        if labelled and depth * mm <= style.reach - style.letters * 0.4:
            write(group, "scale", (left - 3, y), str(depth), style.letters, "end", ink="#555")
            write(group, "scale", (right + 3, y), str(depth), style.letters, "start", ink="#555")


def draw_lines(
    parent: Element,
    sites: list[Site],
    where: tuple[Jaw, Side],
    neck: float,
    toward_roots: float,
    normal_mm: float,
) -> None:
    """Draw the gum margin and the bottom of the pockets along a side of an arch; `toward_roots`
    is the length of a millimetre in y, below zero where roots point up the page."""
    group = SubElement(parent, "g", {"class": "depth-line", "data-jaw": where[0]})
    group.set("data-side", where[1])

    def at(site: Site, mm: float | None) -> tuple[float, float]:
        return site.x, neck + toward_roots * (mm or 0)

    measured = _runs(sites, bottom=True)
    for run in filter(_two_or_more, measured):
        bottom = [at(site, site.bottom_mm) for site in reversed(run)]
        area = _joined([*(at(site, site.margin_mm) for site in run), *bottom]) + "Z"
        draw(group, "sulcus", area, fill=INK, fill_opacity=0.15)
    for run in _runs(sites, bottom=False):
        draw(group, "margin", _line([at(site, site.margin_mm) for site in run]), **_GUM)
    for run in measured:
        line = draw(group, "bottom", _line([at(site, site.bottom_mm) for site in run]), **_BOTTOM)
        line.set("data-sites", " ".join(f"{site.tooth}-{site.name}" for site in run))
    for site in (site for run in measured for site in run if site.mm("pocket") > normal_mm):
        deep = disc(group, "deep", at(site, site.bottom_mm), 5.2, fill=INK)
        deep.attrib |= {"data-tooth": str(site.tooth), "data-site": site.name}


def _two_or_more(run: list[Site]) -> bool:
    return len(run) > 1


def _runs(sites: list[Site], bottom: bool) -> list[list[Site]]:
    """Return the measured sites in runs that a line may join."""
    runs: list[list[Site]] = [[]]
    for site in sites:
        if (site.bottom_mm if bottom else site.margin_mm) is None:
            runs.append([])
            continue
        if runs[-1] and _parted(runs[-1][-1], site):
            runs.append([])
        runs[-1].append(site)
    return [run for run in runs if run]


def _parted(one: Site, other: Site) -> bool:
    """Return whether two sites are of teeth between which no line is drawn."""
    return one.tooth != other.tooth and (one.alone or other.alone)


def _line(points: list[tuple[float, float]]) -> str:
    """Return a line through points; a point by itself is a short line."""
    if len(points) == 1:
        x, y = points[0]
        return f"M{x - 5:.1f} {y:.1f}H{x + 5:.1f}"
    return _joined(points)


def _joined(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


class Figure(NamedTuple):
    """A measure in figures: its site, words, row and middle in x, and whether it is deep."""

    site: Site
    kind: str
    words: str
    row: int
    x: float
    deep: bool


class Figures(NamedTuple):
    """The figures of one side of an arch, in rows from the roots outwards, and the code that
    stands at the beginning of a row."""

    figures: list[Figure]
    codes: dict[int, str]
    rows: int


def figures_of(sites: list[Site], chart: Chart, style: Style) -> Figures:
    """Return what is written at the sites: depths (in an overview only those that are deeper than
    normal), recession and enlargement, each kind in rows of its own."""
    normal = chart.anatomy.normal_probing_depth_mm.most
    rows = Rows(style.letters, 0.8, style.margin, style.width - style.margin)
    figures, codes = [], {}
    for kind in MEASURES:
        first = len(rows)
        for site in sites:
            if kind not in site.measured:
                continue
            deep = kind == "pocket" and site.mm(kind) > normal
            wanted = deep or style.all_figures or (kind != "pocket" and site.mm(kind) > 0)
            if wanted:
                words = value_words(site.measured[kind])
                row, x = rows.add(site.x, words, deep, least=first)
                figures.append(Figure(site, kind, words, row, x, deep))
                codes[first] = site.measured[kind].row.code
    return Figures(figures, codes, len(rows))


def draw_figures(
    parent: Element, figures: Figures, start: float, away: int, style: Style, chart: Chart
) -> None:
    """Write figures in rows from a height of the page outwards; one that is deeper than normal
    stands white in a black box where all are written."""
    group = SubElement(parent, "g", {"class": "figures"})
    step, size = row_height(style), style.letters
    for row, code in figures.codes.items():
        y = start + away * (row + 0.5) * step
        write(group, "row-code", (style.margin - 8, y), code, size, "end", bold=True)
    for each in figures.figures:
        y = start + away * (each.row + 0.5) * step
        boxed = each.deep and style.all_figures
        if boxed:
            half = text_width(each.words, size, bold=True) / 2 - 0.4
            box = f"M{each.x - half:.1f} {y - step / 2 + 1:.1f}h{2 * half:.1f}v{step - 2:g}"
            draw(group, "box", f"{box}h{-2 * half:.1f}Z", fill=INK)
        ink = "#fff" if boxed else INK
        text = write(group, each.kind, (each.x, y), each.words, size, bold=each.deep, ink=ink)
        text.attrib |= {"data-tooth": str(each.site.tooth), "data-site": each.site.name}


def row_height(style: Style) -> float:
    """Return the height of a row of letters."""
    return style.letters + 1.5
