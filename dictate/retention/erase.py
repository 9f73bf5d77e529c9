"""Takes files away so that what they held is gone from them too."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from dictate.errors import DictateError

_BLOCK = 1 << 20


def erase(path: Path) -> None:
    """Overwrite a file with zeros, then remove it; one that is gone is no error. A link is removed
    and nothing else. Raises DictateError where it cannot be removed.

    Disks that spread their writing, as those without moving parts do, may keep older copies of the
    blocks: against that only encrypting the whole disk helps.
    """
    try:
        found = path.lstat()
        # What has another name too belongs to somebody else as well, such as a mirror of the disk.
        if stat.S_ISREG(found.st_mode) and found.st_nlink == 1:
            _overwrite(path, found.st_size)
        path.unlink()
    except FileNotFoundError:
        return
    except OSError as error:
        raise DictateError(
            f"{path} cannot be erased ({error.strerror}): check who may write there, then run it "
            "again."
        ) from error


def _overwrite(path: Path, size: int) -> None:
    with path.open("r+b", buffering=0) as file:
        for start in range(0, size, _BLOCK):
            file.write(bytes(min(_BLOCK, size - start)))
        os.fsync(file.fileno())
