"""The drawing of the mouth as a picture (PNG)."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path

from resvg_py import svg_to_bytes

from dictate.chart.chart import Chart
from dictate.errors import DictateError
from dictate.report.mouth.drawing import mouth_svg
from dictate.report.mouth.layout import Mode

LEAST_PX, MOST_PX = 400, 6000
"""The widths of a picture: below the least the words cannot be read at any size."""

_CSS_DPI = 96.0


def mouth_png(chart: Chart, width_px: int, mode: Mode = "overview") -> bytes:
    """Return the drawing of a chart (see `mouth_svg`) as a PNG that is `width_px` wide, on white.

    The letters come from a font that is installed with the program, never from the system: one
    chart gives the same bytes on every machine of one kind.

    Raises DictateError for a width out of bounds, or when that font is not there: a picture
    without its words would lose findings.
    """
    if not LEAST_PX <= width_px <= MOST_PX:
        raise DictateError(
            f"A picture cannot be {width_px} pixels wide: choose {LEAST_PX} to {MOST_PX}."
        )
    return svg_to_bytes(
        svg_string=mouth_svg(chart, mode),
        background="#fff",
        skip_system_fonts=True,
        font_files=list(font_files()),
        width=width_px,
        dpi=_CSS_DPI,
    )


@cache
def font_files() -> tuple[str, ...]:
    """Return the paths of the font of the drawing, regular and bold. Whatever else sets the drawing
    in print may take its letters from there.

    Raises DictateError when they are not there.
    """
    package = find_spec("font_roboto")
    if package is not None and package.origin is not None:
        folder = Path(package.origin).parent / "files"
        files = tuple(folder / f"Roboto-{weight}.ttf" for weight in ("Regular", "Bold"))
        if all(file.is_file() for file in files):
            return tuple(map(str, files))
    raise DictateError("The font of the drawing is not there: install dictate again.")
