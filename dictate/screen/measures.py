"""The measurements at the sites of a tooth, as its place in the mouth writes them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dictate.chart.anatomy import is_left
from dictate.chart.chart import Chart
from dictate.chart.finding import Finding
from dictate.chart.kinds import ABSENT_KINDS
from dictate.screen.mouth_layout import Line
from dictate.screen.signs import is_of_note, sign_of, size_of

NOT_MEASURED = "·"
BEYOND = "!"
"""What follows a measurement that is beyond normal."""
MORE_THAN, ABOUT = "+", "≈"
"""What follows a figure that was cut because there is no room for the exact one. All such marks
follow, so that a figure never runs into the next."""

_KINDS = {"depths": "pocket", "recessions": "recession"}
_SIDES = {"outer": "buccal", "inner": "palatal"}


@dataclass(frozen=True)
class Measure:
    """What stands at one site: its figure, and whether it is beyond normal; None where nothing was
    measured."""

    value: float | None
    beyond: bool = False

    def written(self, room: int) -> str:
        """Return it in at most so many characters, two or more: "3", "2½", "6!"; where an exact
        one finds no room, "9+" for more than nine."""
        if self.value is None:
            return NOT_MEASURED
        exact = _figure(self.value) + (BEYOND if self.beyond else "")
        if len(exact) <= room:
            return exact
        whole = math.floor(self.value)
        return f"{min(whole, 9)}{MORE_THAN if self.beyond else ABOUT}"


def _figure(value: float) -> str:
    half = value % 1 == 0.5
    return f"{math.floor(value) or ''}½" if half else f"{value:g}"


def is_cut_oddly(finding: Finding) -> bool:
    """Return whether a measurement is no multiple of half a mm, and so may be written as about."""
    return finding.unit == "mm" and size_of(finding) * 2 % 1 != 0


def measures_on(chart: Chart, tooth: int, line: Line) -> tuple[Measure, ...]:
    """Return what was measured along a side of a tooth, three sites as they are seen: the mesial
    one next to the midline. Nothing where no crown stands in the mouth and nothing was measured."""
    side, _, measured = line.partition(" ")
    kind, where = _KINDS[measured], _SIDES[side]
    findings = chart.on(tooth)
    at = {each.place[2]: each for each in findings if each.kind == kind and each.site}
    sites = [at.get(f"{end}{where}") for end in ("mesio", "", "disto")]
    if not any(sites) and any(each.kind in (*ABSENT_KINDS, "extracted") for each in findings):
        return ()
    measures = tuple(_measure(chart, finding) for finding in sites)
    return measures if is_left(tooth) else measures[::-1]


def _measure(chart: Chart, finding: Finding | None) -> Measure:
    if finding is None:
        return Measure(None)
    return Measure(size_of(finding), is_of_note(chart, finding))


def stages_on(chart: Chart, tooth: int) -> str:
    """Return the highest furcation and mobility of a tooth in short: "F2 M1"."""
    signs = []
    for kind in ("furcation", "mobility"):
        found = [each for each in chart.on(tooth) if each.kind == kind]
        if found:
            signs.append(sign_of(max(found, key=size_of)))
    return " ".join(signs)
