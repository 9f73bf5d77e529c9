"""Where the user's data lie, readable by their owner alone."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path

from dictate.errors import DictateError


def data_folder() -> Path:
    """Return the folder that holds cases and models; it need not exist yet.

    The environment variable DICTATE_DATA names another than the user's own.
    """
    return Path(os.environ.get("DICTATE_DATA") or user_data_path("dictate"))


def made_data_folder() -> Path:
    """Return the data folder, made with mode 0700 where it is missing; raise DictateError where
    it cannot be made."""
    folder = data_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        raise DictateError(
            f"The data folder {folder} cannot be made: set DICTATE_DATA to one that can."
        ) from error
    return folder
