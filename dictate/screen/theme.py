"""Two plain themes of high contrast: light on black, and the same on white."""

from __future__ import annotations

from textual.theme import Theme

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
)
