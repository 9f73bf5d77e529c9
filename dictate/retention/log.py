"""The log of deletions: a line for each, without a name; it shows that they were done."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from dictate.errors import DictateError

LOG_FILE = "deletions.log"


def log_deletion(folder: Path, now: datetime, what: str, reason: str) -> None:
    """Add a line to the log in a folder (mode 0600): the day by the clock of this machine, what
    was deleted in numbers, and why. Raises DictateError where it cannot be written."""
    line = f"{now.astimezone():%Y-%m-%d}: {what} deleted; {reason}\n"
    path = folder / LOG_FILE
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        with os.fdopen(descriptor, "ab") as file:
            file.write(line.encode())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise DictateError(
            f"{what} deleted, but {path} cannot be written ({error.strerror}): note it by hand."
        ) from error
