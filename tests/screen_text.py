"""A screen as text that people can compare: its lines, and below them what is styled, and how."""

from collections.abc import Iterator
from itertools import groupby

from rich.cells import cell_len
from rich.color import ColorType
from rich.segment import Segment
from rich.style import Style
from syrupy.extensions.single_file import SingleFileSnapshotExtension, WriteMode
from textual.app import App
from textual.widgets import Input

_ATTRIBUTES = ("bold", "dim", "italic", "underline", "reverse", "strike")


class ScreenFile(SingleFileSnapshotExtension):
    """A snapshot in a text file of its own."""

    _write_mode = WriteMode.TEXT
    file_extension = "txt"


def keep_still(app: App[object]) -> None:
    """Let no cursor blink, so that a screen looks the same whenever it is looked at."""
    for screen in app.screen_stack:
        for field in screen.query(Input):
            field.cursor_blink = False
            field._cursor_visible = True


def screen_with_styles(app: App[object]) -> str:
    """Return the lines of the screen, then each run of a style other than plain text of the theme:
    line and columns from 0, attributes, inks, and the words themselves."""
    theme = app.current_theme
    plain = (_hex(theme.foreground), _hex(theme.background))
    strips = app.screen._compositor.render_strips(app.size)
    lines = [strip.text.rstrip() for strip in strips]
    runs = [
        f"{number:>3} {run}"
        for number, strip in enumerate(strips)
        for run in _runs(list(strip), plain)
    ]
    size = f"{app.size.width} x {app.size.height}"
    heading = f"-- {size}, {theme.name}: plain text is {plain[0]} on {plain[1]} --"
    return "\n".join([*lines, heading, *runs, ""])


def _runs(segments: list[Segment], plain: tuple[str, str]) -> Iterator[str]:
    column = 0
    for said, group in groupby(_with_gaps(segments, plain), key=lambda each: each[0]):
        text = "".join(words for _, words in group)
        end = column + cell_len(text)
        if said:
            yield f"{column:>3}-{end - 1:<3} {said}  {text.strip()}".rstrip()
        column = end


def _with_gaps(segments: list[Segment], plain: tuple[str, str]) -> Iterator[tuple[str, str]]:
    """Yield styles in words and texts. Spaces have no ink: they go on in the style before them
    where the ground is the same, so that a line is told in few runs."""
    before = ""
    for segment in segments:
        said = _said_of(segment, plain)
        if not segment.text.strip() and not {"reverse", "underline"} & set(said.split()):
            ground = _ground(said)
            said = before if ground and ground == _ground(before) else ground
        before = said
        yield said, segment.text


def _ground(said: str) -> str:
    return said[said.index("on #") :] if "on #" in said else ""


def _said_of(segment: Segment, plain: tuple[str, str]) -> str:
    """Return what is not plain about a segment."""
    style = segment.style or Style()
    words = [name for name in _ATTRIBUTES if getattr(style, name)]
    ink, ground = _ink(style, "color"), _ink(style, "bgcolor")
    if ink and ink != plain[0]:
        words.append(ink)
    if ground and ground != plain[1]:
        words.append(f"on {ground}")
    return " ".join(words)


def _ink(style: Style, which: str) -> str:
    color = getattr(style, which)
    if color is None or color.type is ColorType.DEFAULT:
        return ""
    return color.get_truecolor().hex


def _hex(ink: str | None) -> str:
    return (ink or "").lower()
