"""Damage to the file of the cases, found before anything in it is changed."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path

from dictate.errors import DictateError
from dictate.text import harmless

MOST_CHECKED_BYTES = 20_000_000
"""Larger files are not read through at every start, which would take a tenth of a second and more:
their cases are checked as they are read."""

REMEDY = (
    "For a file of this machine, “dictate rescue” keeps a copy and saves what can be read; for a "
    "practice's database, ask who looks after it."
)
"""What can be done about a case that was damaged or altered."""

_NEW_S = 60
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_NO_TEXT = "decode"
_SAID = ("Could not decode", "no such column", "no such table", "duplicate column name")
"""What Python says of a text that is none, and SQLite of tables that are not as they were made."""


class DamagedError(DictateError):
    """What is kept is not what was written: the disk, or somebody, changed it."""


def log_of(file: Path) -> Path:
    """Return where the log of a file of SQLite lies."""
    return file.with_name(f"{file.name}-wal")


def damaged_file(file: Path, why: str) -> DamagedError:
    """Return the sentence that says that the file of the cases is damaged. An entry that is quoted
    in `why` is left out of it."""
    why = "a text in it is none" if _NO_TEXT in why else why
    return DamagedError(
        f"{file} is damaged ({why}): nothing in it was changed. “dictate rescue” keeps a copy of "
        "it and saves what can be read; “dictate restore” takes back a backup."
    )


def is_damage(error: BaseException | None) -> bool:
    """Return whether an error of SQLite says that a file is damaged."""
    if isinstance(error, UnicodeDecodeError):
        return True
    if not isinstance(error, sqlite3.Error):
        return False
    code = getattr(error, "sqlite_errorcode", None)
    return (code is not None and code & 0xFF in _DAMAGED) or str(error).startswith(_SAID)


def check_file(file: Path, most_bytes: int | None = MOST_CHECKED_BYTES) -> None:
    """Raise DamagedError where a file of SQLite is damaged as a whole, or lost what was in it; one
    of more than `most_bytes` is not read through.

    It is read only, so that SQLite does not throw away a log that fits no more. What a check does
    not see, such as a byte changed within an entry, is found by its hash when a case is read. What
    stands in the way otherwise is for who opens the file.
    """
    file = file.resolve()
    size = file.stat().st_size if file.exists() else 0
    if size == 0:
        _check_not_emptied(file)
        return
    if most_bytes is not None and size > most_bytes:
        return
    found = b"ok"
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as db:
            # What it finds may quote what is no text.
            db.text_factory = bytes
            (found,) = db.execute("PRAGMA integrity_check(1)").fetchone()
    except (sqlite3.Error, UnicodeDecodeError) as error:
        if is_damage(error):
            raise damaged_file(file, str(error)) from error
    if found != b"ok":
        lines = found.decode(errors="replace").strip().splitlines()
        raise damaged_file(file, harmless(lines[-1]))


def _check_not_emptied(file: Path) -> None:
    log = log_of(file)
    if log.exists() and log.stat().st_size:
        raise damaged_file(file, "it is empty, but its log is not")
    if file.exists() and time.time() - file.stat().st_mtime > _NEW_S:
        raise damaged_file(file, "it is empty")
