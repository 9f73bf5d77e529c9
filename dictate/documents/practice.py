"""The practice whose letterhead stands on documents: practice.toml in the data folder.

The file may be missing or hold only some keys: `name`, `address`, `telephone`, `paper`.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.chart.case import Line, shown
from dictate.errors import DictateError
from dictate.folders import data_folder
from dictate.report.paper import Paper

PRACTICE_FILE = "practice.toml"


class Practice(BaseModel):
    """A practice as its letterhead names it, and the paper that it prints on."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    name: Line = Field(default="", max_length=100, description="at most 100 plain characters")
    address: Line = Field(default="", max_length=200, description="at most 200 plain characters")
    telephone: Line = Field(default="", max_length=50, description="at most 50 plain characters")
    paper: Paper = Field(default="a4", description='"a4" or "letter"')


def read_practice(folder: Path | None = None) -> Practice:
    """Return the practice in a folder, the data folder where none is named; one without a name,
    on A4, where the folder has no file of it.

    Raises DictateError, one sentence with the file, the key and what is allowed.
    """
    path = (folder or data_folder()) / PRACTICE_FILE
    try:
        table = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (FileNotFoundError, NotADirectoryError):
        return Practice()
    except OSError as error:
        raise DictateError(
            f"{path} could not be read ({error.strerror}): check who may read it."
        ) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise DictateError(f"{path} is not TOML ({error}): put it right.") from error
    try:
        return Practice.model_validate(table)
    except ValidationError as error:
        wrong = error.errors()[0]
        key = str(wrong["loc"][0])
        field = Practice.model_fields.get(key)
        if field is None:
            keys = ", ".join(Practice.model_fields)
            raise DictateError(
                f"{path}: there is no key {shown(key)}; it may have {keys}."
            ) from error
        raise DictateError(
            f"{path}: {key} cannot be {shown(wrong['input'])}; it is {field.description}."
        ) from error


def paper_named(name: str | None, practice: Practice) -> Paper:
    """Return the paper of this name, the practice's own where none is named; raise DictateError
    where there is no such paper."""
    match name:
        case None:
            return practice.paper
        case "a4" | "letter":
            return name
        case _:
            raise DictateError(f"There is no paper {shown(name)}: write a4 or letter.")
