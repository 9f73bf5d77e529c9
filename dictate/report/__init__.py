"""What leaves the program: the record as JSON, a table, a drawing and a page; and what they
share, harmless text and private files."""

from __future__ import annotations

import contextlib
import os
import tempfile
import unicodedata
from pathlib import Path

from dictate.chart.finding import Finding
from dictate.errors import DictateError

CODES = {
    "missing": "", "unerupted": "UNE", "retained_root": "RTR", "fracture": "",
    "resorption": "TR", "pulp_exposure": "PE", "draining_tract": "DRT", "furcation": "F",
    "mobility": "M", "pocket": "PD", "recession": "R", "enlargement": "GE",
    "discolored": "T/NV", "caries": "CA", "persistent_deciduous": "DT/P",
    "supernumerary": "T/SN", "bleeding": "BOP", "gingivitis": "G", "calculus": "C",
    "plaque": "PL", "wear": "", "enamel_defect": "ED", "enamel_hypoplasia": "E/H",
    "rotation": "ROT", "crowding": "CRD", "normal": "N",
}  # fmt: skip
"""What stands before the value of a finding in short, by kind, the weightiest first.
Abbreviations of the AVDC where findings.toml names one, our own elsewhere."""

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
_JOINERS = frozenset("\u200c\u200d")
"""Written inside words of several scripts; they change the shape of letters and nothing else."""


def harmless(text: str) -> str:
    """Return `text` with every control, bidirectional or otherwise unseen character made
    visible: "␉" for a tab, "⟨U+202E⟩" for an override of the direction of reading. The result
    has no line breaks and holds only characters that XML 1.0 allows."""
    if text.isprintable():
        return text
    return "".join(_seen(character) for character in text)


def _seen(character: str) -> str:
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)
    if code == 0x7F:
        return "␡"
    not_a_character = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    hidden = unicodedata.category(character) in _HIDDEN and character not in _JOINERS
    return f"⟨U+{code:04X}⟩" if hidden or not_a_character else character


def write_private(path: Path, text: str) -> None:
    """Write `text` to `path` as UTF-8, readable by its owner only (mode 0600), all of it or
    nothing: whoever opens `path` finds the old file or the new one.

    Raises DictateError when the folder is not there or cannot be written to.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(text.encode())
                file.flush()
                os.fchmod(file.fileno(), 0o600)
                os.fsync(file.fileno())
            Path(name).replace(path)
        except BaseException:
            with contextlib.suppress(OSError):
                Path(name).unlink()
            raise
    except (OSError, UnicodeEncodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "its text is not valid Unicode"
        raise DictateError(f"{path.name} could not be written ({why}).") from error


def value_words(finding: Finding) -> str:
    """Return a finding's value as it is written: "2.5" for a length in mm, "UCF", "" for none."""
    value = finding.value
    return f"{value:g}" if isinstance(value, int | float) else value or ""


def weight(finding: Finding) -> int:
    """Return where its kind stands among `CODES`, the weightiest first."""
    return [*CODES, finding.kind].index(finding.kind)


def code_of(finding: Finding, graded: bool = True) -> str:
    """Return a finding in short and without its site: "F2", "UCF", "PE"; "F" for one that is
    not to be `graded`; "" for a missing tooth, which is drawn."""
    code = CODES.get(finding.kind, finding.kind)
    return code + value_words(finding) if graded or finding.row.terms else code


def code_meaning(finding: Finding, index_scale: int) -> str:
    """Return what its code without a grade stands for, with the grades there are."""
    row, value = finding.row, value_words(finding)
    if row.terms:
        term = row.terms.get(value, value)
        words = f"resorption: {term}" if finding.kind == "resorption" else term
        return words[:1].upper() + words[1:]
    if row.value == "grade":
        return f"{row.title}, {row.least} to {row.top(index_scale)}"
    return f"{row.title}, mm" if row.unit else row.title
