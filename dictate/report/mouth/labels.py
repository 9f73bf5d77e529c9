"""What is written at a tooth in codes: everything that no shape or line shows in full."""

from __future__ import annotations

import re
from typing import NamedTuple

from dictate.chart.chart import Chart
from dictate.chart.finding import Finding, same_place
from dictate.chart.kinds import finding_kinds
from dictate.chart.short import code_of, weight
from dictate.report.mouth.depths import at_a_site
from dictate.report.mouth.layout import Place, Style
from dictate.report.mouth.sheet import Rows, text_width

_SPACE = "\u00a0"


class Label(NamedTuple):
    """Words at a tooth: the row, counted from the tooth outwards, and their middle in x."""

    tooth: int
    words: str
    row: int
    x: float
    bold: bool = False


class Labels(NamedTuple):
    """The labels of a jaw and how many rows they fill."""

    labels: list[Label]
    rows: int


def numbers_of(places: list[Place], style: Style) -> Labels:
    """Return the numbers of the teeth, bold where there are findings."""
    rows = Rows(style.letters, 0.5, style.margin - 10, style.width - style.margin + 10)
    labels = []
    for place in places:
        words, bold = str(place.tooth), bool(place.findings)
        labels.append(Label(place.tooth, words, *rows.add(place.x, words, bold), bold))
    return Labels(labels, len(rows))


def labels_of(places: list[Place], chart: Chart, style: Style) -> Labels:
    """Return the codes of the teeth, none of them left out; several stand on one line where the
    room of the tooth allows it. The weightiest findings get the rows nearest to their teeth."""
    rows = Rows(style.letters, 3.5, 2, style.width - 2)
    labels = []
    for place in sorted(places, key=_lightness):
        least = 0
        for words in _lines(codes_at(place, chart), place.room, style.letters):
            row, x = rows.add(place.x, words, least=least)
            labels.append(Label(place.tooth, words, row, x))
            least = row + 1
    return Labels(labels, len(rows))


def _lightness(place: Place) -> int:
    return min(map(weight, filter(in_a_label, place.findings)), default=len(finding_kinds()))


def codes_at(place: Place, chart: Chart) -> list[str]:
    """Return the codes of a tooth, the weightiest first."""
    if not place.findings:
        return ["skip"] if place.tooth in chart.skipped else []
    return [code for code in map(_label_code, place.findings) if code]


def in_a_label(finding: Finding) -> bool:
    """Return whether a finding is written in a label, or else shown at its site."""
    return not at_a_site(finding) and bool(code_of(finding))


def _label_code(finding: Finding) -> str:
    """Return code and site, such as "F2 mb", with no space to break a line at."""
    if not in_a_label(finding):
        return ""
    site = re.sub("(m|d|b|p)(esi|ist|ucc|alat)(al|o)", r"\1", same_place(finding.site) or "")
    return f"{code_of(finding)}{_SPACE}{site[:3]}" if site else code_of(finding)


def _lines(codes: list[str], room: float, size: float) -> list[str]:
    lines: list[str] = []
    for code in codes:
        joined = f"{lines[-1]} {code}" if lines else code
        if lines and text_width(joined, size) <= room:
            lines[-1] = joined
        else:
            lines.append(code)
    return lines
