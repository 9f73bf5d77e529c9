"""Pages typeset by Typst: everything of a case goes in as data, never as code.

Nothing is fetched: the templates import no package. The fonts are those inside Typst, so that a
page is the same on every computer; only for letters that these lack are the computer's own used,
and what no font has is written as its code point.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from contextlib import suppress
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeAlias

from typst import Compiler, TypstError

from dictate.errors import DictateError
from dictate.text import harmless

Template: TypeAlias = Literal["record", "letter", "sheet"]

TEMPLATES = Path(__file__).resolve().parent / "templates"
_STANDARDS: Any = ["a-2a", "ua-1"]
"""PDF/A-2a (ISO 19005-2), to be kept for years, and PDF/UA-1 (ISO 14289-1), to be read aloud."""

_ONE_CHARACTER = b'#set document(title: "x")\n#sys.inputs.character'
_SIZE_OF_A_DRAWING = re.compile(r'viewBox="\S+ \S+ ([\d.]+) ([\d.]+)"')
_FONT_OF_A_DRAWING = re.compile('font-family="[^"]*"')


def pdf(template: Template, data: Mapping[str, Any], drawing: str, moment: datetime) -> bytes:
    """Return what a template makes of the data as a tagged PDF (A-2a and UA-1).

    `data` is plain JSON whose texts are made harmless here; `drawing` is an SVG; `moment` is
    stated in the file as the time of its making: the same input gives the same bytes.
    Raises DictateError where it cannot be typeset.
    """
    inputs = inputs_of(data, drawing)
    for own_fonts in (False, True):
        with suppress(TypstError):
            return _compiled(template, inputs, moment, own_fonts)
    shown = {name: _spelled_out(text) for name, text in inputs.items()}
    try:
        return _compiled(template, shown, moment, own_fonts=True)
    except TypstError as error:
        raise DictateError(f"The {template} could not be typeset ({error}).") from error


def inputs_of(data: Mapping[str, Any], drawing: str) -> dict[str, str]:
    """Return what a template reads: the data as JSON, and the drawing as SVG in Typst's font with
    the ratio of its width to its height."""
    width, height = _SIZE_OF_A_DRAWING.search(drawing).groups()  # type: ignore[union-attr]
    return {
        "ratio": str(float(width) / float(height)),
        "data": json.dumps(_harmless(data), ensure_ascii=False),
        "drawing": in_our_font(drawing),
    }


def in_our_font(drawing: str) -> str:
    """Return an SVG with its letters in the font of the page."""
    return _FONT_OF_A_DRAWING.sub('font-family="Libertinus Serif"', drawing)


@cache
def compiler(own_fonts: bool) -> Compiler:
    """Return Typst with the fonts inside it, or with the computer's `own_fonts` beside them."""
    return Compiler(root=TEMPLATES, ignore_system_fonts=not own_fonts)


def _compiled(
    template: Template, inputs: dict[str, str], moment: datetime, own_fonts: bool
) -> bytes:
    made = compiler(own_fonts).compile(
        TEMPLATES / f"{template}.typ",
        format="pdf",
        sys_inputs=inputs,
        pdf_standards=_STANDARDS,
        timestamp=moment.astimezone(UTC).replace(microsecond=0),
    )
    assert isinstance(made, bytes)
    return made


def _harmless(value: Any) -> Any:
    match value:
        case str():
            return harmless(value)
        case Mapping():
            return {name: _harmless(each) for name, each in value.items()}
        case list() | tuple():
            return [_harmless(each) for each in value]
        case _:
            return value


def _spelled_out(text: str) -> str:
    """Return the text with code points in place of the characters that no font has."""
    lacking = {each for each in set(text) if not each.isascii() and not _shows(each)}
    return "".join(f"⟨U+{ord(each):04X}⟩" if each in lacking else each for each in text)


@cache
def _shows(character: str) -> bool:
    if unicodedata.category(character) in ("Co", "Cn"):
        return False
    try:
        compiler(own_fonts=True).compile(
            _ONE_CHARACTER,
            format="pdf",
            sys_inputs={"character": character},
            pdf_standards=_STANDARDS,
        )
    except TypstError:
        return False
    return True
