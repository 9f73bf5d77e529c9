"""What the drawing is made of: places, paths, words, and rows of words that never touch.

Every word is written upright or on its side in a sans-serif whose letters are no wider than
`text_width` says; so boxes that do not meet here do not meet in print.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Literal, NamedTuple, TypeAlias
from xml.etree.ElementTree import Element, SubElement

from dictate.report.mouth.shapes import Outline
from dictate.text import harmless

Anchor = Literal["start", "middle", "end"]

Look: TypeAlias = dict[str, str | float]
"""How a path is drawn: attributes of SVG with "_" for "-"."""

INK, SOFT, FAINT = "#111", "#8a8a8a", "#dcdcdc"

FONTS = "Roboto, Arial, Helvetica, 'Liberation Sans', 'DejaVu Sans', sans-serif"

HEIGHT = 0.76
"""The height of figures and capitals as a share of the size of the letters, with a hair of room."""

_WIDTHS = {
    0.3: " \u00a0.,:;'|!/()fijlrtI[]",
    0.39: '"-’“”',
    0.56: "0123456789abcdeghknopqsuvxyz?+L",
    0.68: "ABEFKPSTVXYZJ",
    0.74: "CDGHNOQRUw&",
    0.9: "MWm%…←→",
}
"""Widths of letters as shares of their size, rounded up from common sans-serifs."""


class Box(NamedTuple):
    """A rectangle on the page; y grows down."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Return whether the two share more than an edge."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


class View(NamedTuple):
    """Where a tooth is drawn: a point of the page, and which way (1 or -1) distal goes in x and
    the tooth's own second direction in y (towards the tip from the side, outwards from above)."""

    x: float
    y: float
    distal: int
    up: int
    across: float = 1.0
    along: float = 1.0

    def at(self, u: float, v: float) -> tuple[float, float]:
        """Return the point of the page so far distally and so far up."""
        return self.x + self.distal * u * self.across, self.y + self.up * v * self.along


def trace(outline: Outline, view: View, width: float = 1.0, height: float = 1.0) -> str:
    """Return a path as it lies on the page."""
    drawn = []
    for letter, values in outline:
        pairs = zip(values[::2], values[1::2], strict=True)
        points = (view.at(u * width, v * height) for u, v in pairs)
        drawn.append(letter + " ".join(f"{x:.1f} {y:.1f}" for x, y in points))
    return "".join(drawn)


def draw(parent: Element, kind: str, path: str, **look: str | float) -> Element:
    """Draw a path of a class; keywords are its looks: `stroke_width` stands for stroke-width."""
    drawn = SubElement(parent, "path", {"class": kind, "d": path})
    for name, value in look.items():
        drawn.set(name.replace("_", "-"), f"{value:g}" if isinstance(value, float) else str(value))
    return drawn


def disc(parent: Element, kind: str, at: tuple[float, float], r: float, **look: str) -> Element:
    """Draw a circle of a class."""
    drawn = SubElement(
        parent, "circle", {"class": kind, "cx": f"{at[0]:.1f}", "cy": f"{at[1]:.1f}"}
    )
    drawn.set("r", f"{r:g}")
    for name, value in look.items():
        drawn.set(name.replace("_", "-"), value)
    return drawn


def write(
    parent: Element,
    kind: str,
    where: tuple[float, float],
    words: str,
    size: float,
    anchor: Anchor = "middle",
    bold: bool = False,
    ink: str = INK,
) -> Element:
    """Write words of a class; their figures stand on either side of the height of `where`."""
    text = SubElement(parent, "text", {"class": kind, "x": f"{where[0]:.1f}"})
    text.set("y", f"{where[1] + size * HEIGHT / 2 - 0.5:.1f}")
    text.attrib |= {"font-size": f"{size:g}", "text-anchor": anchor}
    if bold:
        text.set("font-weight", "bold")
    if ink != INK:
        text.set("fill", ink)
    text.text = harmless(words)
    return text


def text_width(words: str, size: float, bold: bool = False) -> float:
    """Return how wide words are at most."""
    return sum(_letter_width(letter) for letter in words) * size * (1.04 if bold else 1)


@cache
def _letter_width(letter: str) -> float:
    for width, letters in _WIDTHS.items():
        if letter in letters:
            return width
    return 1.0


class Rows:
    """Rows of words, each in the first row in which it touches nothing. Words are added with the
    middle of where they stand; `rows` has them with their left edge, by row."""

    def __init__(self, size: float, gap: float, left: float, right: float) -> None:
        self.size, self.gap, self.left, self.right = size, gap, left, right
        self._taken: list[list[tuple[float, float]]] = []

    def __len__(self) -> int:
        return len(self._taken)

    def add(self, x: float, words: str, bold: bool = False, least: int = 0) -> tuple[int, float]:
        """Return the row, not before row `least`, and the middle that words centred at `x` get;
        they are moved only where they would stand beyond the edges."""
        half = text_width(words, self.size, bold) / 2
        middle = min(max(x, self.left + half), self.right - half)
        span = middle - half - self.gap / 2, middle + half + self.gap / 2
        row = least
        while row < len(self._taken) and _touches(span, self._taken[row]):
            row += 1
        while len(self._taken) <= row:
            self._taken.append([])
        self._taken[row].append(span)
        return row, middle


def _touches(span: tuple[float, float], others: Iterable[tuple[float, float]]) -> bool:
    return any(span[0] < right and left < span[1] for left, right in others)
