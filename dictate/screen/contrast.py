"""Measures every pair of ink and ground that the screen uses, and writes docs/accessibility.md.

The pairs are not listed by hand: the program is run without a terminal, and each of its widgets is
asked for its styles, those of hidden ones and of states that are not on the screen included.
"""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from textual.color import Color
from textual.pilot import Pilot
from textual.style import Style
from textual.theme import Theme
from textual.widget import Widget

from dictate.assessment.gravity import GRAVITIES
from dictate.chart.case import Case
from dictate.grammar.spoken import spoken_languages
from dictate.screen.app import ChartingApp
from dictate.screen.colour import VISIONS, contrast, lightness, seen
from dictate.screen.signs import GLYPHS, STATE_WORDS
from dictate.screen.theme import DARK, LIGHT
from dictate.session.session import Session

THEMES = (DARK, LIGHT)
TEXT_LEAST = 4.5
"""Least contrast of text, level AA: W3C, WCAG 2.2, 1.4.3. All text is held to it here, large
letters and lines too, of which 3 is asked (1.4.3, 1.4.11)."""
LIGHTNESS_LEAST = 10.0
"""Least difference in lightness L* between two inks of gravity (our own bound, no source)."""

_SCENES = ("", "f7", "ctrl+e")
"""Keys that bring up, one after another: the mouth, what follows, a proposal that is changed."""
_PHRASES = ("208 mobility 3 pocket 9", "208 pocket 7")
_UNUSED = ("input--suggestion",)
"""Styles of a package's widgets for what this program never shows."""


@dataclass(frozen=True, order=True)
class Pair:
    """An ink on a ground, as "#rrggbb"."""

    ink: str
    ground: str

    @property
    def ratio(self) -> float:
        """The contrast ratio, 1 to 21."""
        return contrast(self.ink, self.ground)


def pairs_of(theme: Theme) -> dict[Pair, tuple[str, ...]]:
    """Return every pair that the screen uses in a theme, and the names of what uses it."""
    return asyncio.run(measure(theme))


async def measure(theme: Theme) -> dict[Pair, tuple[str, ...]]:
    """Return what `pairs_of` does, inside a running loop."""
    opened = datetime(2026, 1, 1, tzinfo=UTC)
    case = Case(id="contrast", species="dog", opened=opened, animal="Contrast")
    session = Session(case, spoken_languages(), now=lambda: opened)
    for phrase in _PHRASES:
        session.type_text(phrase)
    app = ChartingApp(session, now=lambda: opened)
    found: dict[Pair, set[str]] = {}
    async with app.run_test(size=(120, 40)) as pilot:
        app.theme = theme.name
        for key in _SCENES:
            await _press(pilot, key)
            for widget in app.screen.walk_children(Widget, with_self=True):
                for name, pair in _pairs_in(widget):
                    found.setdefault(pair, set()).add(name)
    return {pair: tuple(sorted(names)) for pair, names in sorted(found.items())}


async def _press(pilot: Pilot[None], key: str) -> None:
    if key:
        await pilot.press(key)
    await pilot.pause()


def _pairs_in(widget: Widget) -> Iterator[tuple[str, Pair]]:
    name = type(widget).__name__ + (f" #{widget.id}" if _has_own_id(widget) else "")
    yield name, _pair(widget.visual_style, widget)
    for component in _components(widget):
        yield component, _pair(widget.get_visual_style(component), widget)
    _, ground = widget.background_colors
    for kind, colour in widget.styles.border:
        if kind:
            yield f"{name} border", Pair(_hex(colour, ground), _hex(ground, ground))
    if widget.allow_vertical_scroll:
        bar, behind = widget.styles.scrollbar_color, widget.styles.scrollbar_background
        yield f"{name} scrollbar", Pair(_hex(bar, behind), _hex(behind, ground))


def _has_own_id(widget: Widget) -> bool:
    return bool(widget.id) and not str(widget.id).startswith("_")


def _components(widget: Widget) -> list[str]:
    classes = (getattr(each, "COMPONENT_CLASSES", ()) for each in type(widget).__mro__)
    return sorted({name for names in classes for name in names}.difference(_UNUSED))


def _pair(style: Style, widget: Widget) -> Pair:
    """Return the pair of a style; a see-through ink is the ink that lies under it."""
    under = widget.visual_style
    ink = style.foreground or under.foreground or Color(0, 0, 0)
    ground = style.background or under.background or Color(0, 0, 0)
    if ink.a == 0 and under.foreground:
        ink = under.foreground
    if style.reverse:
        ink, ground = ground, ink
    return Pair(_hex(ink, ground), _hex(ground, under.background or ground))


def _hex(colour: Color, under: Color) -> str:
    blended = under + colour if colour.a < 1 else colour
    return blended.hex6.lower()


def gravity_inks(theme: Theme) -> dict[str, str]:
    """Return the inks of the gravities of a theme, the least first."""
    return {each: theme.variables[f"gravity-{each}"] for each in GRAVITIES}


def lightnesses(theme: Theme, vision: str) -> dict[str, float]:
    """Return the lightness L*, 0 to 100, of each ink of gravity to a vision of `VISIONS`."""
    return {name: lightness(seen(ink, vision)) for name, ink in gravity_inks(theme).items()}


_INTRODUCTION = """\
# Seeing the screen

Made by `python -m dictate.screen.contrast docs/accessibility.md`; a test compares it with the
program. Nothing on the screen is told by colour alone: glyphs, words and signs say all of it.

## How the state of a tooth is told

The bars are a scale of our own that says which tooth to look at first
(`dictate/assessment/gravity.toml`); it is no clinical grade and is no part of a record.
"""
_OTHER_SIGNS = """\
- The tooth in hand: its number in square brackets, light and dark turned round, and its number in
  large figures below. In the view for across the room it is what is largest.
- A tooth that is asked about: `?` before its signs.
- A measurement beyond normal: `!` after it, and light and dark turned round. A figure that finds no
  room ends in `+`, more than that.
- A site that was not measured: `·`.
- Listening or not: in words on the top line, with a sign of its own for each state.
- What became of an utterance: `✓ charted`, `? query`, `✗ refused`.
"""
_GRAVITY = """\
## Gravity for every colour vision

The lightness L* (CIE 1976) of the three inks, to normal vision and as simulated after Machado,
Oliveira and Fernandes 2009 (severity 1.0). Any two differ by {least:g} or more to everyone.
"""
_CONTRAST = """\
## Contrast

Contrast ratios after W3C, Web Content Accessibility Guidelines 2.2. Level AA asks for 4.5 of text
(1.4.3) and 3 of large text and of graphics (1.4.3, 1.4.11); everything here is held to 4.5. The
pairs are asked of the running program, hidden parts included; names are those of its widgets and
their styles. A terminal that changes colours, or has only a few, changes the ratios.
"""


def accessibility_page() -> str:
    """Return the document in Markdown."""
    states = [(f"`{glyph}`", STATE_WORDS[state]) for state, glyph in GLYPHS.items()]
    parts = [
        _INTRODUCTION,
        _table(("glyph", "state"), states),
        _OTHER_SIGNS,
        _GRAVITY.format(least=LIGHTNESS_LEAST),
        _table(("theme", "vision", *GRAVITIES), _gravity_rows()),
        _CONTRAST,
    ]
    for theme in THEMES:
        parts += [
            f"### {theme.name}\n",
            _table(("ratio", "ink", "ground", "used by"), _rows(theme)),
        ]
    return "\n".join(parts)


def _gravity_rows() -> Iterator[tuple[str, ...]]:
    for theme in THEMES:
        for vision in VISIONS:
            values = lightnesses(theme, vision).values()
            yield (theme.name, vision, *(f"{each:.0f}" for each in values))


def _rows(theme: Theme) -> list[tuple[str, ...]]:
    pairs = sorted(pairs_of(theme).items(), key=lambda item: (item[0].ratio, item[0]))
    return [
        (f"{pair.ratio:.1f}", f"`{pair.ink}`", f"`{pair.ground}`", ", ".join(names))
        for pair, names in pairs
    ]


def _table(headings: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [headings, ("---",) * len(headings), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines) + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(accessibility_page(), encoding="utf-8")
