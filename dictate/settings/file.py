"""Reads settings.toml, and changes one setting in it: all else, comments too, stays as it was."""

from __future__ import annotations

import copy
import re
import tomllib
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from dictate.errors import DictateError
from dictate.folders import data_folder, made_data_folder, make_private
from dictate.report.private_file import write_private
from dictate.settings.sections import Setting, Settings, settings_of

SETTINGS_FILE = "settings.toml"

_BYTE_ORDER_MARK = "\ufeff"
"""Some editors begin a file with this mark of its encoding."""


def settings_path(folder: Path | None = None) -> Path:
    """Return where the settings in a folder lie, the data folder where none is named."""
    return (folder or data_folder()) / SETTINGS_FILE


def read_settings(folder: Path | None = None) -> Settings:
    """Return the settings in a folder, the data folder where none is named; the defaults where it
    has no file of them.

    Raises DictateError, one sentence with the file, the key and what is allowed.
    """
    path = settings_path(folder)
    return _settings(path, _table(path, _text(path)))


def change_setting(setting: Setting, value: object, folder: Path | None = None) -> Settings:
    """Write one setting into the file, which is made where it is missing; return all settings.

    The file is replaced as a whole, readable by its owner alone, and only where it is right before
    and after. Raises DictateError where the setting cannot have the value, where the file is wrong
    or cannot be written: then it is as it was.
    """
    setting.check(value)
    path = settings_path(folder)
    text = _text(path)
    table = _table(path, text)
    wanted = copy.deepcopy(table)
    section = wanted.setdefault(setting.section, {})
    if isinstance(section, dict):
        section[setting.key] = value
    settings = _settings(path, wanted)
    _make(folder)
    # A file that is a link stays one.
    write_private(path.resolve(), _changed(path, text, setting, value, wanted))
    return settings


def _make(folder: Path | None) -> None:
    if folder is None:
        made_data_folder()
        return
    make_private(folder)


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except OSError as error:
        raise DictateError(
            f"{path} could not be read ({error.strerror}): check who may read it."
        ) from error
    except UnicodeDecodeError as error:
        raise DictateError(f"{path} is not TOML ({error}): put it right.") from error


def _table(path: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text.removeprefix(_BYTE_ORDER_MARK))
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise DictateError(f"{path} is not TOML ({error}): put it right.") from error


def _settings(path: Path, table: dict[str, Any]) -> Settings:
    try:
        return settings_of(table)
    except DictateError as error:
        raise DictateError(f"{path}: {error}") from error


def _changed(path: Path, text: str, setting: Setting, value: object, wanted: dict[str, Any]) -> str:
    """Return the text with one setting changed; refuse where anything else would change."""
    bare = text.removeprefix(_BYTE_ORDER_MARK)
    try:
        document = tomlkit.parse(bare)
        if setting.section not in document:
            document.add(setting.section, tomlkit.table())
        document[setting.section][setting.key] = value
        changed = tomlkit.dumps(document)
        if "\r\n" in bare:
            changed = re.sub("\r?\n", "\r\n", changed)
        if tomllib.loads(changed) != wanted:
            raise ValueError("something else would change")
    except (TOMLKitError, ValueError, KeyError, TypeError) as error:
        raise DictateError(
            f"{path} is written in a way that cannot be changed from here ({error}): "
            f"set {setting.path} in an editor."
        ) from error
    return text[: len(text) - len(bare)] + changed
