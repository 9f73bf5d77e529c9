"""How pages are made of templates: every text is escaped and harmless."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from dictate.text import harmless


def page_environment(folder: Path) -> Environment:
    """Return the templates of a folder, with the filter `css_string`."""
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["css_string"] = css_string
    return environment


def css_string(text: str) -> Markup:
    """Return a text as a string of a style sheet, in which every character but letters and digits
    of ASCII is written as its number, so that nothing in it can end the string or the sheet."""
    written = (
        each if each.isascii() and each.isalnum() else f"\\{ord(each):X} "
        for each in harmless(text)
    )
    return Markup(f'"{"".join(written)}"')  # noqa: S704


def _plain(value: object) -> object:
    """Return what a template prints as harmless text; a drawing is markup already."""
    return harmless(value) if isinstance(value, str) and not isinstance(value, Markup) else value
