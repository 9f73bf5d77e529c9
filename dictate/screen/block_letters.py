"""Letters of block characters, to be read from across the room.

Two founts of our own: tall letters of 5 by 7 points, which grow by whole factors, and small ones
of 3 by 5 (some wider). A point is one column wide and half a line high, which is about square.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from textwrap import wrap

_TALL_POINTS = """
A .###. #...# #...# ##### #...# #...# #...#
B ####. #...# #...# ####. #...# #...# ####.
C .###. #...# #.... #.... #.... #...# .###.
D ####. #...# #...# #...# #...# #...# ####.
E ##### #.... #.... ####. #.... #.... #####
F ##### #.... #.... ####. #.... #.... #....
G .###. #...# #.... #.### #...# #...# .###.
H #...# #...# #...# ##### #...# #...# #...#
I ##### ..#.. ..#.. ..#.. ..#.. ..#.. #####
J ..### ...#. ...#. ...#. ...#. #..#. .##..
K #...# #..#. #.#.. ##... #.#.. #..#. #...#
L #.... #.... #.... #.... #.... #.... #####
M #...# ##.## #.#.# #.#.# #...# #...# #...#
N #...# ##..# ##..# #.#.# #..## #..## #...#
O .###. #...# #...# #...# #...# #...# .###.
P ####. #...# #...# ####. #.... #.... #....
Q .###. #...# #...# #...# #.#.# #..#. .##.#
R ####. #...# #...# ####. #.#.. #..#. #...#
S .#### #.... #.... .###. ....# ....# ####.
T ##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..
U #...# #...# #...# #...# #...# #...# .###.
V #...# #...# #...# #...# #...# .#.#. ..#..
W #...# #...# #...# #.#.# #.#.# ##.## #...#
X #...# #...# .#.#. ..#.. .#.#. #...# #...#
Y #...# #...# .#.#. ..#.. ..#.. ..#.. ..#..
Z ##### ....# ...#. ..#.. .#... #.... #####
0 .###. #...# #..## #.#.# ##..# #...# .###.
1 ..#.. .##.. ..#.. ..#.. ..#.. ..#.. #####
2 .###. #...# ....# ..##. .#... #.... #####
3 ####. ....# ....# .###. ....# ....# ####.
4 #..#. #..#. #..#. ##### ...#. ...#. ...#.
5 ##### #.... #.... ####. ....# ....# ####.
6 .###. #.... #.... ####. #...# #...# .###.
7 ##### ....# ....# ...#. ..#.. ..#.. ..#..
8 .###. #...# #...# .###. #...# #...# .###.
9 .###. #...# #...# .#### ....# ....# .###.
. .. .. .. .. .. ## ##
, .. .. .. .. .# .# #.
; .. .# .. .. .# .# #.
: .. ## ## .. ## ## ..
! # # # # # . #
? .###. #...# ....# ..##. ..#.. ..... ..#..
- .... .... .... #### .... .... ....
– .... .... .... #### .... .... ....
/ ....# ....# ...#. ..#.. .#... #.... #....
% ##..# ##..# ...#. ..#.. .#... #..## #..##
+ ..... ..#.. ..#.. ##### ..#.. ..#.. .....
“ #.# #.# ... ... ... ... ...
” #.# #.# ... ... ... ... ...
’ # # . . . . .
( ..# .#. #.. #.. #.. .#. ..#
) #.. .#. ..# ..# ..# .#. #..
"""
_SMALL_POINTS = """
A .#. #.# ### #.# #.#
B ##. #.# ##. #.# ##.
C .## #.. #.. #.. .##
D ##. #.# #.# #.# ##.
E ### #.. ##. #.. ###
F ### #.. ##. #.. #..
G .## #.. #.# #.# .##
H #.# #.# ### #.# #.#
I ### .#. .#. .#. ###
J ..# ..# ..# #.# .#.
K #.# #.# ##. #.# #.#
L #.. #.. #.. #.. ###
M #...# ##.## #.#.# #...# #...#
N #..# ##.# #.## #..# #..#
O ### #.# #.# #.# ###
P ### #.# ### #.. #..
Q ###. #.#. #.#. #.#. ####
R ##. #.# ##. #.# #.#
S .## #.. .#. ..# ##.
T ### .#. .#. .#. .#.
U #.# #.# #.# #.# ###
V #.# #.# #.# #.# .#.
W #...# #...# #.#.# ##.## #...#
X #.# #.# .#. #.# #.#
Y #.# #.# .#. .#. .#.
Z ### ..# .#. #.. ###
0 .##. #..# #..# #..# .##.
1 .#. ##. .#. .#. ###
2 ##. ..# .#. #.. ###
3 ### ..# .## ..# ###
4 #.# #.# ### ..# ..#
5 ### #.. ##. ..# ##.
6 .## #.. ### #.# ###
7 ### ..# ..# .#. .#.
8 ### #.# ### #.# ###
9 ### #.# ### ..# ##.
. . . . . #
, .. .. .. .# #.
; .. .# .. .# #.
: . # . # .
! # # # . #
? ##. ..# .#. ... .#.
- ... ... ### ... ...
– ... ... ### ... ...
/ ..# ..# .#. #.. #..
% #.# ..# .#. #.. #.#
+ ... .#. ### .#. ...
“ #.# #.# ... ... ...
” #.# #.# ... ... ...
’ # # . . .
( .# #. #. #. .#
) #. .# .# .# #.
"""


def _read(points: str) -> Mapping[str, tuple[str, ...]]:
    rows = (line.split() for line in points.strip().splitlines())
    return {character: tuple(rest) for character, *rest in rows}


@dataclass(frozen=True)
class Fount:
    """Letters: for each character its rows of points, "#" for ink; all are `height` rows high.
    `scale` is by how much they are larger than drawn."""

    points: Mapping[str, tuple[str, ...]]
    height: int
    scale: int = 1

    @property
    def lines(self) -> int:
        """The lines of the screen that a line of letters takes."""
        return -(-self.height * self.scale // 2)

    @property
    def space(self) -> int:
        """The width of a space between words, in columns."""
        return 2 * self.scale

    def has(self, text: str) -> bool:
        """Return whether it has every character of a text, in capitals."""
        return all(character == " " or character in self.points for character in text.upper())

    def width(self, text: str) -> int:
        """Return the columns that a text takes."""
        widths = [
            self.space if each == " " else len(self.points[each][0]) * self.scale
            for each in text.upper()
        ]
        return sum(widths) + max(0, len(widths) - 1) * self.scale

    def draw(self, text: str) -> list[str]:
        """Return the lines of a text, all as wide as `width`."""
        rows = [self._row(text.upper(), number) for number in range(self.height)]
        halves = [row for row in rows for _ in range(self.scale)]
        if len(halves) % 2:
            halves.append("." * len(halves[0]))
        return [
            "".join(_BLOCKS[pair] for pair in zip(above, below, strict=True))
            for above, below in zip(halves[::2], halves[1::2], strict=True)
        ]

    def _row(self, text: str, number: int) -> str:
        letters = (
            "." * self.space if each == " " else _widened(self.points[each][number], self.scale)
            for each in text
        )
        return ("." * self.scale).join(letters)


_BLOCKS = {(".", "."): " ", ("#", "."): "▀", (".", "#"): "▄", ("#", "#"): "█"}
_TALL, _SMALL = _read(_TALL_POINTS), _read(_SMALL_POINTS)
_MOST_SCALE = 12


def _widened(row: str, scale: int) -> str:
    return "".join(point * scale for point in row)


def tall(scale: int) -> Fount:
    """Return the tall letters, so many times as large as drawn."""
    return Fount(_TALL, 7, scale)


SMALL = Fount(_SMALL, 5)
"""The small letters."""


def largest(text: str, width: int, height: int) -> list[str] | None:
    """Return the lines of a text in the largest letters in which it fits, broken between words;
    None where it does not fit, or has characters that are not drawn."""
    founts = [*(tall(scale) for scale in range(_MOST_SCALE, 0, -1)), SMALL]
    for fount in founts:
        if fount.lines > height or not fount.has(text):
            continue
        lines = _broken(text, width, fount)
        for gap in (1, 0):
            if lines and len(lines) * (fount.lines + gap) - gap <= height:
                drawn = [[*fount.draw(line), *[""] * gap] for line in lines]
                return [row for rows in drawn for row in rows][: -gap or None]
    return None


def _broken(text: str, width: int, fount: Fount) -> list[str]:
    """Return a text in lines that fit a width, nothing where a word is too wide by itself."""
    lines: list[str] = []
    for word in text.split():
        if fount.width(word) > width:
            return []
        if lines and fount.width(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def as_large_as_fits(text: str, width: int, height: int) -> list[str]:
    """Return the lines of a text as large as it can be: in letters of blocks, else in spaced
    letters, else as it is; "…" at its end where not even that fits."""
    if drawn := largest(text, width, height):
        return drawn
    spaced = [line.replace(_FAST, " ").rstrip() for line in wrap(_spaced(text), max(1, width))]
    if len(spaced) <= height and all(len(_FAST.join(word)) <= width for word in text.split()):
        return spaced
    lines = wrap(text, max(1, width))
    if len(lines) > height:
        lines = [*lines[: height - 1], lines[height - 1][: width - 2].rstrip() + " …"]
    return lines


_FAST = "\u00a0"
"""A space that no line is broken at."""


def _spaced(text: str) -> str:
    """Return a text with a space after each letter; it may be broken between words alone."""
    return f"{_FAST}{_FAST} ".join(_FAST.join(word) for word in text.split())
