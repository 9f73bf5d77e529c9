"""Where the user's data lie, readable by their owner alone."""

from __future__ import annotations

import contextlib
import os
import stat
from pathlib import Path

from platformdirs import user_data_path

from dictate.errors import DictateError

OTHERS = 0o077
"""The bits of a mode that let anybody but the owner in."""


STORE_VARIABLE = "DICTATE_STORE"
"""The environment variable that names the database of all stations."""


def data_folder() -> Path:
    """Return the folder that holds cases and models; it need not exist yet.

    The environment variable DICTATE_DATA names another than the user's own.
    """
    return Path(os.environ.get("DICTATE_DATA") or user_data_path("dictate"))


def made_data_folder() -> Path:
    """Return the data folder, made with mode 0700 where it is missing; raise DictateError where
    it cannot be made. It and what is in it are closed to others, where they were open."""
    folder = data_folder()
    try:
        make_private(folder)
    except OSError as error:
        raise DictateError(
            f"The data folder {folder} cannot be made: set DICTATE_DATA to one that can."
        ) from error
    _close_to_others(folder)
    return folder


def make_private(folder: Path) -> None:
    """Make a folder and what is missing above it, for their owner alone (mode 0700); one that is
    there stays as it is. Raises OSError where it cannot be made."""
    if not folder.is_dir():
        if folder.parent != folder:
            make_private(folder.parent)
        folder.mkdir(mode=0o700, exist_ok=True)


def open_to_others(folder: Path) -> bool:
    """Return whether the mode of a folder lets anybody but its owner in."""
    return os.name == "posix" and bool(folder.stat().st_mode & OTHERS)


def _close_to_others(folder: Path) -> None:
    """Take from others what modes let them do in the data folder. A folder that cannot be
    dictate's own (that of all temporary files, the user's home) stays open; what lies in it is
    closed all the same."""
    with contextlib.suppress(OSError):
        shared = folder.stat().st_mode & stat.S_ISVTX or folder.samefile(Path.home())
        for path in (*(() if shared else (folder,)), *_own_in(folder)):
            mode = path.lstat().st_mode
            if mode & OTHERS and not stat.S_ISLNK(mode):
                path.chmod(stat.S_IMODE(mode) & ~OTHERS)


def _own_in(folder: Path) -> list[Path]:
    return [folder / name for name in _OWN if (folder / name).exists()]


_OWN = (
    *("cases.sqlite", "cases.sqlite-wal", "cases.sqlite-shm", "clips", "seal.key", "voices"),
    *("second_screen", "settings.toml", "practice.toml", "formulary.toml"),
    *("station", "spool", "deletions.log", "pronunciations.txt", "words.txt"),
)
"""What holds data of patients, clinicians or keys. A closed folder closes all that is in it."""
