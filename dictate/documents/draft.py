"""The text of a letter or a sheet, which a person may edit before it is printed.

In a draft a line that begins with "## " is a heading, one with "- " a point; lines between empty
ones are a paragraph. All else is text as it stands: nothing in a draft is code or markup. The first
line says from which state of which case it was drafted.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal, NamedTuple, TypeAlias

from dictate.errors import DictateError
from dictate.report.private_file import write_private
from dictate.report.record import Record
from dictate.text import harmless

Kind: TypeAlias = Literal["letter", "sheet"]

_SIGNS = {"heading": "## ", "point": "- ", "text": ""}
_ORIGIN = re.compile(r"\[(letter|sheet) of case ([a-z0-9-]+) after (\d+) entries\]")
_MOST_CHARACTERS = 40_000


class Block(NamedTuple):
    """A part of a text: a heading, a point of a list, or a paragraph. One line, without white
    space at its ends."""

    kind: Literal["heading", "point", "text"]
    text: str


class Draft(NamedTuple):
    """The blocks of a text, and whether a person wrote them (or the tool, from the chart)."""

    blocks: list[Block]
    edited: bool = False


def heading(text: str) -> Block:
    """Return a heading."""
    return Block("heading", one_line(text))


def point(text: str) -> Block:
    """Return a point of a list."""
    return Block("point", one_line(text))


def paragraph(text: str) -> Block:
    """Return a paragraph."""
    return Block("text", one_line(text))


def one_line(text: str) -> str:
    """Return a text on one line, nothing in it unseen."""
    return harmless(" ".join(text.split()))


def draft_text(kind: Kind, record: Record, blocks: Iterable[Block]) -> str:
    """Return blocks as a person edits them."""
    lines = [_origin(kind, record)]
    before = ""
    for block in blocks:
        if (before, block.kind) != ("point", "point"):
            lines.append("")
        lines.append(_SIGNS[block.kind] + _escaped(block))
        before = block.kind
    return "\n".join(lines) + "\n"


def write_draft(path: Path, kind: Kind, record: Record, blocks: Iterable[Block]) -> None:
    """Write a draft, readable by its owner only, and never over a file that is there: it may hold
    what a person wrote. Raises DictateError where it cannot be written."""
    if path.exists() or path.is_symlink():
        raise DictateError(f"{path} is there already: name another file, or move it away.")
    write_private(path, draft_text(kind, record, blocks))


def read_draft(path: Path, kind: Kind, record: Record, although_changed: bool = False) -> Draft:
    """Return the draft in a file.

    Raises DictateError where it cannot be read, belongs to another case or another kind of
    document, or where the case has changed since it was drafted and that was not waved through.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise DictateError(f"{path} could not be read ({error.strerror}).") from error
    except UnicodeDecodeError as error:
        raise DictateError(f"{path} is not text in UTF-8: save it as that.") from error
    if len(text) > _MOST_CHARACTERS:
        raise DictateError(f"{path} is longer than {_MOST_CHARACTERS} characters: shorten it.")
    first, _, rest = text.partition("\n")
    _check_origin(path, first.strip(), kind, record, although_changed)
    return Draft(blocks_of(rest.splitlines()), edited=True)


def blocks_of(lines: Sequence[str]) -> list[Block]:
    """Return the blocks that lines make."""
    blocks: list[Block] = []
    going_on = False
    for line in map(str.strip, lines):
        if not line:
            going_on = False
        elif going_on and _kind_of(line) == "text":
            last = blocks.pop()
            blocks.append(last._replace(text=one_line(f"{last.text} {line}")))
        else:
            kind = _kind_of(line)
            said = one_line(_unescaped(line.removeprefix(_SIGNS[kind].strip()).strip()))
            if said:
                blocks.append(Block(kind, said))
            going_on = bool(said) and kind != "heading"
    return blocks


def _kind_of(line: str) -> Literal["heading", "point", "text"]:
    if line.startswith("## "):
        return "heading"
    return "point" if line.startswith("- ") else "text"


def _escaped(block: Block) -> str:
    """Return its text with a backslash before what would be read as a sign."""
    return f"\\{block.text}" if block.text.startswith(("#", "-", "\\")) else block.text


def _unescaped(text: str) -> str:
    return text.removeprefix("\\")


def _origin(kind: Kind, record: Record) -> str:
    return f"[{kind} of case {record.case.id} after {len(record.events)} entries]"


def _check_origin(
    path: Path, line: str, kind: Kind, record: Record, although_changed: bool
) -> None:
    found = _ORIGIN.fullmatch(line)
    if found is None:
        raise DictateError(
            f"{path} lacks its first line, which says what it was drafted from: draft it anew."
        )
    if found[1] != kind:
        raise DictateError(f"{path} is a {found[1]}, not a {kind}: name the right file.")
    if found[2] != record.case.id:
        raise DictateError(f"{path} was drafted for case {found[2]}, not {record.case.id}.")
    if int(found[3]) != len(record.events) and not although_changed:
        raise DictateError(
            f"Case {record.case.id} has changed since {path} was drafted: draft it anew, or add "
            "--although-changed if its text still holds."
        )
