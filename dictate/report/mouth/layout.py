"""Where the teeth stand: both arches laid straight, the animal's right on the left of the page.

The upper jaw stands above the lower. Of each jaw the drawing has every tooth three times: from the
cheek, from above, and from the tongue or palate, with crowns towards each other, so that roots and
depths of both sides lie outwards. One unit is 0.1 mm when a drawing is printed at its own width.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, NamedTuple

from dictate.chart.anatomy import is_left, is_upper, position
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.short import weight
from dictate.report.mouth.shapes import Form, form_of
from dictate.report.mouth.sheet import View

Mode = Literal["overview", "detailed"]
Jaw = Literal["upper", "lower"]
Side = Literal["outer", "inner"]


class Style(NamedTuple):
    """How large a drawing is: its width, the size of its letters, how much taller than in an
    overview its teeth are, the columns of its legend."""

    width: float
    letters: float
    tall: float
    columns: int
    all_figures: bool
    margin: float = 47

    @property
    def reach(self) -> float:
        """How far the band of roots and depths goes from the necks of the teeth."""
        return 130 * self.tall

    @property
    def crown(self) -> float:
        """The room of the crowns, seen from a side."""
        return 89 * self.tall

    @property
    def top(self) -> float:
        """The room of the crowns, seen from above."""
        return 68 * self.tall


STYLES: dict[Mode, Style] = {
    "overview": Style(1000, 20, 0.88, 2, False),
    "detailed": Style(1800, 24, 1.2, 3, True),
}
"""An overview is read at 10 cm, with letters of 5.7 pt; a detailed drawing at 18 cm, of 6.8 pt."""


class Place(NamedTuple):
    """A tooth of the drawing: its middle and room in x, which way distal is, its form and how
    much wider than that it is drawn. `beside`: it stands beside the teeth that are expected."""

    tooth: int
    x: float
    room: float
    distal: int
    form: Form
    across: float
    beside: bool
    findings: tuple[Finding, ...]

    @property
    def kinds(self) -> frozenset[str]:
        """The kinds of finding that are drawn on it."""
        return frozenset(each.kind for each in self.findings)

    def view(self, y: float, up: int, tall: float) -> View:
        """Return the tooth's view with its neck or middle at a height of the page."""
        return View(self.x, y, self.distal, up, self.across, tall)


def is_drawn(finding: Finding) -> bool:
    """Return whether a finding is drawn: of the treatment only extractions are."""
    if finding.row.section == "treatment":
        return finding.kind == "extracted"
    return finding.kind != "radiographed"


def places(chart: Chart, jaw: Jaw, style: Style) -> list[Place]:
    """Return the teeth of a jaw from the left of the page to its right: those expected, and
    after its neighbour of the same position any other that carries findings."""
    expected = chart.expected_teeth
    known = (*chart.anatomy.permanent_teeth, *chart.anatomy.deciduous_teeth)
    found = {tooth: _found(chart, tooth) for tooth in known}
    teeth = [
        tooth
        for tooth in known
        if is_upper(tooth) == (jaw == "upper") and (tooth in expected or found[tooth])
    ]
    return _spread(chart, sorted(teeth, key=lambda each: _rank(each, expected)), found, style)


def _found(chart: Chart, tooth: int) -> tuple[Finding, ...]:
    return tuple(sorted(filter(is_drawn, chart.on(tooth)), key=weight))


def _rank(tooth: int, expected: Iterable[int]) -> tuple[int, bool]:
    """Return where a tooth stands from left to right."""
    beside = tooth not in expected
    side = 1 if is_left(tooth) else -1
    return side * (2 * position(tooth) + beside), beside


def _spread(
    chart: Chart, teeth: list[int], found: dict[int, tuple[Finding, ...]], style: Style
) -> list[Place]:
    forms = {tooth: form_of(chart.species, tooth) for tooth in teeth}
    across = (style.width - 2 * style.margin) / sum(form.room for form in forms.values())
    left, placed = style.margin, []
    for tooth, form in forms.items():
        room = form.room * across
        distal = 1 if is_left(tooth) else -1
        beside = tooth not in chart.expected_teeth
        middle = left + room / 2
        placed.append(Place(tooth, middle, room, distal, form, across, beside, found[tooth]))
        left += room
    return placed
