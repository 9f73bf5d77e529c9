"""What a practice has set for itself: settings.toml in the data folder.

Every key has a default, so the file may be missing or hold what differs only.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from pathlib import Path
from typing import Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from dictate.errors import DictateError
from dictate.folders import data_folder

SETTINGS_FILE = "settings.toml"

ReadBack: TypeAlias = Literal["off", "doubts", "all"]
"""What is read back by a voice: nothing, what is asked, or all that becomes of an utterance."""


class _Section(BaseModel):
    """A section of the file. What a key may hold stands in its description, for people."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class SoundSettings(_Section):
    """How the tool answers by sound. `volume` is a share of full scale, `rate` in words a minute,
    `echo_s` in s."""

    tones: bool = Field(default=True, description="true or false")
    volume: float = Field(default=0.5, ge=0, le=1, description="a number from 0 to 1")
    read_back: ReadBack = Field(default="off", description='"off", "doubts" or "all"')
    rate: int = Field(default=170, ge=80, le=400, description="a whole number from 80 to 400")
    voice: str = Field(
        default="en-us",
        pattern=r"^[A-Za-z][A-Za-z0-9+_-]*$",
        description='the name of an espeak-ng voice, such as "en-us" or "en-gb"',
    )
    echo_s: float = Field(default=0.2, ge=0, le=2, description="a number of seconds from 0 to 2")


class AttentionSettings(_Section):
    """How the tool is told to listen or not. `name` is said before “start listening”, "" for none;
    `foot_switch` is the key that a foot-switch sends, as the screen names keys, "" for none."""

    name: str = Field(
        default="",
        pattern=r"^([a-z][a-z']*( [a-z][a-z']*){0,2})?$",
        description='one to three words in small letters, such as "rosie"',
    )
    foot_switch: str = Field(
        default="", description='one key, such as "f13", "pagedown", "ctrl+b" or "b"'
    )

    @field_validator("foot_switch")
    @classmethod
    def _one_key(cls, value: str) -> str:
        if value and not _is_key(value):
            raise ValueError("no such key")
        return value


class Settings(_Section):
    """All settings."""

    sounds: SoundSettings = Field(default=SoundSettings(), description="a section [sounds]")
    attention: AttentionSettings = Field(
        default=AttentionSettings(), description="a section [attention]"
    )


def read_settings(folder: Path | None = None) -> Settings:
    """Return the settings in a folder, the data folder where none is named; the defaults where it
    has no file of them.

    Raises DictateError, one sentence with the file, the key and what is allowed.
    """
    path = (folder or data_folder()) / SETTINGS_FILE
    try:
        # Some editors begin a file with a mark of its encoding.
        table = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return Settings()
    except OSError as error:
        raise DictateError(
            f"{path} could not be read ({error.strerror}): check who may read it."
        ) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise DictateError(f"{path} is not TOML ({error}): put it right.") from error
    try:
        return Settings.model_validate(table)
    except ValidationError as error:
        raise DictateError(f"{path}: {_sentence(error.errors()[0])}") from error


def _sentence(error: Any) -> str:
    """Return what is wrong with a key, and what is allowed there."""
    model: type[_Section] = Settings
    *sections, key = (str(each) for each in error["loc"])
    for name in sections:
        model = type(model.model_fields[name].default)
    name = ".".join((*sections, key))
    if error["type"] == "extra_forbidden":
        return f"there is no key {name}; it may have {', '.join(model.model_fields)}."
    allowed = model.model_fields[key].description
    return f"{name} cannot be {_shown(error['input'])}; it is {allowed}."


def _shown(value: object) -> str:
    text = {True: "true", False: "false"}.get(value) if isinstance(value, bool) else repr(value)
    text = str(text)
    return text if len(text) <= 40 else text[:39] + "…"


def _is_key(value: str) -> bool:
    """Whether the screen has a name for this key, alone or with ctrl, alt or shift."""
    # Textual takes a moment to load, and no other setting needs it.
    from textual.keys import KEY_NAME_REPLACEMENTS, Keys

    *modifiers, key = value.split("+")
    if not set(modifiers) <= {"ctrl", "alt", "shift"} or not re.fullmatch("[A-Za-z0-9_]+", key):
        return False
    if len(key) == 1 or key in {*Keys, *KEY_NAME_REPLACEMENTS.values()}:
        return True
    try:
        unicodedata.lookup(key.replace("_", " "))
    except KeyError:
        return False
    return True
