"""Two plain themes of high contrast: light on black, and the same on white.

The inks of gravity differ in lightness, so that they differ for who sees no hue as well; measured
in docs/accessibility.md.
"""

from __future__ import annotations

from typing import Literal

from textual.theme import Theme

_SELECTED = {
    "input-selection-background": "#ffcc33",
    "input-selection-foreground": "#000000",
    "screen-selection-background": "#ffcc33",
    "screen-selection-foreground": "#000000",
}
"""Text that is being selected, in both themes: black on amber can be read on any ground."""


def _scrollbar(bar: str, ground: str) -> dict[str, str]:
    states = ("", "-hover", "-active")
    bars = {f"scrollbar{state}": bar for state in states}
    return bars | {f"scrollbar-background{state}": ground for state in states}


DARK = Theme(
    name="dictate-dark",
    dark=True,
    primary="#ffffff",
    secondary="#b8b8b8",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#262626",
    success="#7dff9b",
    warning="#ffcc33",
    error="#a8071a",
    accent="#ffffff",
    text_alpha=1.0,
    variables={
        **_SELECTED,
        **_scrollbar("#b8b8b8", "#262626"),
        "gravity-minor": "#fff0a0",
        "gravity-moderate": "#ffa52e",
        "gravity-severe": "#ff5a86",
    },
)

LIGHT = Theme(
    name="dictate-light",
    dark=False,
    primary="#000000",
    secondary="#4a4a4a",
    foreground="#000000",
    background="#ffffff",
    surface="#ffffff",
    panel="#e2e2e2",
    success="#00602a",
    warning="#ffcc33",
    error="#a8071a",
    accent="#000000",
    text_alpha=1.0,
    variables={
        **_SELECTED,
        **_scrollbar("#4a4a4a", "#e2e2e2"),
        "gravity-minor": "#807300",
        "gravity-moderate": "#923600",
        "gravity-severe": "#6a0040",
    },
)


def theme_name(setting: Literal["dark", "light"]) -> str:
    """Return the name of the theme that a setting chooses."""
    return (LIGHT if setting == "light" else DARK).name
