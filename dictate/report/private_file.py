"""Files that their owner alone may read."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from dictate.errors import DictateError
from dictate.folders import make_private


def made_folder(folder: Path) -> Path:
    """Return the folder, made for its owner only (mode 0700) where it is not there; raise
    DictateError where it cannot be made."""
    try:
        make_private(folder)
    except OSError as error:
        raise DictateError(f"{folder.name} could not be made ({error.strerror}).") from error
    return folder


def write_private(path: Path, content: str | bytes) -> None:
    """Write `content` to `path`, a text as UTF-8, readable by its owner only (mode 0600), all of
    it or nothing: whoever opens `path` finds the old file or the new one.

    Raises DictateError when the folder is not there or cannot be written to.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content.encode() if isinstance(content, str) else content)
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
