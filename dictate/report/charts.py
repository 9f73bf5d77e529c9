"""Small charts of what was measured visit by visit, as SVG.

Made here, since a plotting library would be the heaviest package of all for a line and a few
points, and would not draw in the manner of the mouth (letters that never touch, grey alone, the
same text in print). Time runs to the right, in proportion but for days that would touch. A visit
that did not measure breaks the line and is marked by a cross; nothing is told by colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import accumulate, pairwise
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from dictate.assessment.tooth import words_of_number
from dictate.report.mouth.sheet import (
    FAINT,
    FONTS,
    INK,
    SOFT,
    Look,
    disc,
    draw,
    text_width,
    write,
)
from dictate.text import harmless

_GREY = "#555"
_LEAST_GAP = 0.04
"""How far two visits stand apart at least, as a share of the width."""


@dataclass(frozen=True)
class Course:
    """What was measured, visit by visit: one value for each day, None where there is none. The
    axis goes from 0 to `top`; `normal` is a value to draw a line at."""

    title: str
    unit: str
    days: tuple[date, ...]
    values: tuple[float | None, ...]
    top: float
    normal: float | None = None

    @property
    def words(self) -> str:
        """All that the chart shows, for who cannot see it."""
        unit = f" {self.unit}" if self.unit else ""
        told = (
            f"{day}: {'not measured' if value is None else f'{words_of_number(value)}{unit}'}"
            for day, value in zip(self.days, self.values, strict=True)
        )
        return harmless(f"{self.title}. {'; '.join(told)}.")


class _Plot(NamedTuple):
    """Where a course is drawn, in tenths of a mm."""

    left: float
    right: float
    floor: float
    ceiling: float
    top: float

    def y(self, value: float) -> float:
        share = min(max(value / self.top, 0.0), 1.0) if self.top > 0 else 0.0
        return self.floor - share * (self.floor - self.ceiling)


def depth_top(depths: Iterable[float]) -> float:
    """Return the top of an axis that all these depths (mm) stand on, 8 mm at least."""
    return max([8.0, *(float(-(-depth // 2) * 2) for depth in depths)])


def spark_svg(course: Course) -> str:
    """Return a chart of 34 by 9 mm to stand in a line of a table: an axis from 0 to the top."""
    svg = _frame(course.words, 340, 90)
    plot = _Plot(50, 328, 76, 14, course.top)
    for value in (0.0, course.top):
        write(svg, "tick", (38, plot.y(value)), words_of_number(value), 22, "end", ink=_GREY)
    draw(svg, "axis", f"M{plot.left - 6} {plot.ceiling}V{plot.floor}H336", **_line(_GREY, 1.5))
    _course(svg, course, plot, 6)
    return tostring(svg, encoding="unicode")


def charts_svg(courses: Sequence[Course], columns: int = 3) -> str:
    """Return charts side by side, each 60 by 40 mm with its title, its axis and its days."""
    wide, high = 600, 400
    rows = -(-len(courses) // columns)
    svg = _frame(
        " ".join(course.words for course in courses),
        wide * max(1, min(columns, len(courses))),
        high * max(1, rows),
    )
    for number, course in enumerate(courses):
        group = SubElement(svg, "g", {"class": "chart"})
        across, down = wide * (number % columns), high * (number // columns)
        group.set("transform", f"translate({across} {down})")
        _panel(group, course)
    return tostring(svg, encoding="unicode")


def _panel(parent: Element, course: Course) -> None:
    plot = _Plot(70, 560, 330, 70, course.top)
    title = f"{course.title}{f', {course.unit}' if course.unit else ''}"
    write(parent, "title", (10, 24), _fitting(title, 27, 570), 27, "start", bold=True)
    for value in _ticks(course.top):
        y = plot.y(value)
        draw(parent, "grid", f"M{plot.left} {y:.1f}H{plot.right + 20}", **_line(FAINT, 1.5))
        write(parent, "tick", (plot.left - 14, y), words_of_number(value), 24, "end", ink=_GREY)
    draw(parent, "axis", f"M{plot.left} {plot.ceiling}V{plot.floor}", **_line(_GREY, 2))
    _course(parent, course, plot, 8)
    xs = places(course.days, plot.left + 14, plot.right)
    _values(parent, course, plot, xs)
    _days(parent, course.days, xs)


def _course(parent: Element, course: Course, plot: _Plot, r: float) -> None:
    """Draw the line at normal, the line between visits that both measured, and the visits."""
    xs = places(course.days, plot.left + r + 4, plot.right)
    if course.normal is not None:
        y = plot.y(course.normal)
        line = f"M{plot.left} {y:.1f}H{plot.right + r:g}"
        draw(parent, "normal", line, **_line(SOFT, 2), stroke_dasharray="3 7")
    points = list(zip(xs, course.values, strict=True))
    for (x, value), (x2, value2) in pairwise(points):
        if value is not None and value2 is not None:
            line = f"M{x:.1f} {plot.y(value):.1f}L{x2:.1f} {plot.y(value2):.1f}"
            draw(parent, "course", line, **_line(INK, 3))
    for x, value in points:
        if value is None:
            cross = (
                f"M{x - r:.1f} {plot.floor - 3 * r:g}l{2 * r} {2 * r}m0 {-2 * r}l{-2 * r} {2 * r}"
            )
            draw(parent, "not-measured", cross, **_line(SOFT, 2.5))
        else:
            beyond = course.normal is None or value > course.normal
            fill = INK if beyond else "#fff"
            point = disc(parent, "point", (x, plot.y(value)), r, fill=fill, stroke=INK)
            point.set("stroke-width", "2.5")


def _values(parent: Element, course: Course, plot: _Plot, xs: Sequence[float]) -> None:
    """Write values above their points where there is room."""
    measured = [(x, value) for x, value in zip(xs, course.values, strict=True) if value is not None]
    labels = [(x, words_of_number(value)) for x, value in measured]
    for number in _with_room(labels, 24):
        x, value = measured[number]
        write(parent, "value", (x, plot.y(value) - 24), labels[number][1], 24)


def _days(parent: Element, days: Sequence[date], xs: Sequence[float]) -> None:
    """Write the days below where there is room."""
    size, right = 22, 596
    half = text_width("2026-05-04", size) / 2
    labels = [(min(max(x, half), right - half), f"{day}") for x, day in zip(xs, days, strict=True)]
    for number in _with_room(labels, size):
        x, words = labels[number]
        write(parent, "day", (x, 368), words, size, ink=_GREY)


def _with_room(labels: Sequence[tuple[float, str]], size: float) -> Iterator[int]:
    """Yield which of some words, each centred at its x, stand side by side without touching: the
    last, the first, then the others from the last on."""
    taken: list[tuple[float, float]] = []
    last = len(labels) - 1
    for number in dict.fromkeys([last, 0, *range(last, -1, -1)] if labels else []):
        x, words = labels[number]
        half = text_width(words, size) / 2 + 5
        if all(x + half <= left or right <= x - half for left, right in taken):
            taken.append((x - half, x + half))
            yield number


def places(days: Sequence[date], left: float, right: float) -> list[float]:
    """Return where visits stand between two ends: in proportion to time, but never closer than a
    share of the width (less where there are many); a single one in the middle."""
    if len(days) < 2:
        return [(left + right) / 2 for _ in days]
    span = max((days[-1] - days[0]).days, 1)
    least = min(_LEAST_GAP, 1 / len(days))
    gaps = [max((after - before).days / span, least) for before, after in pairwise(days)]
    at = [0.0, *accumulate(gaps)]
    return [left + (right - left) * share / at[-1] for share in at]


def _ticks(top: float) -> list[float]:
    """Return the values of an axis to write: every whole one up to 4, else every second."""
    step = 1 if top <= 4 else 2 if top <= 12 else 5
    return [float(value) for value in range(0, int(top) + 1, step)]


def _fitting(words: str, size: float, room: float) -> str:
    """Return words cut off where they are wider than there is room."""
    words = harmless(words)
    if text_width(words, size, bold=True) <= room:
        return words
    while words and text_width(f"{words}…", size, bold=True) > room:
        words = words[:-1]
    return f"{words}…"


def _line(ink: str, width: float) -> Look:
    return {"stroke": ink, "stroke_width": width, "fill": "none"}


def _frame(words: str, width: float, height: float) -> Element:
    svg = Element("svg", xmlns="http://www.w3.org/2000/svg", role="img", fill=INK)
    svg.set("font-family", FONTS)
    svg.set("viewBox", f"0 0 {width:g} {height:g}")
    svg.attrib |= {"width": f"{width / 10:g}mm", "height": f"{height / 10:g}mm"}
    SubElement(svg, "title").text = harmless(words)
    return svg
