"""Colours as they are seen: contrast, lightness, and what people of other colour vision see.

Sources: relative luminance and contrast ratio, W3C, Web Content Accessibility Guidelines 2.2,
definitions of those terms; lightness L*, CIE 1976; colour vision, Machado, Oliveira and Fernandes
2009, A Physiologically-based Model for Simulation of Color Vision Deficiency, matrices of
severity 1.0 for linear sRGB.
"""

from __future__ import annotations

from typing import TypeAlias

Linear: TypeAlias = tuple[float, float, float]
"""Red, green and blue light from 0 to 1, proportional to its power."""

NORMAL_VISION = "normal vision"
VISIONS: dict[str, tuple[Linear, Linear, Linear]] = {
    NORMAL_VISION: ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
"""What each vision makes of linear light, a row of factors for red, green and blue."""


def linear(colour: str) -> Linear:
    """Return the light of a colour such as "#ffcc33"."""
    red, green, blue = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return _linear(red), _linear(green), _linear(blue)


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4


def luminance(light: Linear) -> float:
    """Return the relative luminance, 0 for black to 1 for white."""
    red, green, blue = light
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    darker, lighter = sorted((luminance(linear(one)), luminance(linear(other))))
    return (lighter + 0.05) / (darker + 0.05)


def seen(colour: str, vision: str) -> Linear:
    """Return the light that a colour is to a vision of `VISIONS`."""
    light = linear(colour)
    red, green, blue = (
        min(1.0, max(0.0, sum(f * part for f, part in zip(row, light, strict=True))))
        for row in VISIONS[vision]
    )
    return red, green, blue


def lightness(light: Linear) -> float:
    """Return the lightness L*, 0 for black to 100 for white."""
    y = luminance(light)
    return 116 * y ** (1 / 3) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3
