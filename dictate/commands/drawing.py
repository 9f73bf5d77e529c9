"""The command that writes the drawing of the mouth by itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dictate.cases.stored import case_store
from dictate.chart.chart import Chart, blank_chart, fold
from dictate.errors import DictateError
from dictate.report.mouth.layout import Mode
from dictate.terminal import say

_OVERVIEW_PX, _DETAILED_PX = 1200, 2160
"""Widths of a PNG that is printed at its own width with 12 pixels a millimetre."""


def drawing(
    case: str,
    out: Annotated[Path, typer.Option("--out", help="The file: .svg or .png.")] = Path("mouth.svg"),
    detailed: Annotated[
        bool, typer.Option("--detailed", help="18 cm wide with all figures; else 10 cm.")
    ] = False,
    width: Annotated[
        int | None, typer.Option("--width", help="Width of a PNG in pixels; enough for print.")
    ] = None,
) -> None:
    """Draw the mouth of a case, as SVG or PNG."""
    from dictate.report.private_file import write_private

    kind = out.suffix.lower()
    if kind not in (".svg", ".png"):
        raise DictateError(f"{out.name} is neither .svg nor .png: give it one of these endings.")
    if width is not None and kind == ".svg":
        raise DictateError("An SVG has no width in pixels: leave out --width, or write a .png.")
    kept, events = case_store().load(case)
    write_private(out, _drawn(fold(blank_chart(kept), events), kind, detailed, width))
    say(out)


def _drawn(chart: Chart, kind: str, detailed: bool, width: int | None) -> str | bytes:
    from dictate.report.mouth.drawing import mouth_svg
    from dictate.report.mouth.picture import mouth_png

    mode: Mode = "detailed" if detailed else "overview"
    if kind == ".svg":
        return mouth_svg(chart, mode)
    pixels = width if width is not None else (_DETAILED_PX if detailed else _OVERVIEW_PX)
    return mouth_png(chart, pixels, mode)
