"""The file of a practice's formulary: where it is looked for, and how an empty one is written."""

from __future__ import annotations

import os
from pathlib import Path

from dictate.errors import DictateError
from dictate.folders import data_folder
from dictate.formulary.arithmetic import signed_formulary
from dictate.formulary.formulary import EMPTY_FORMULARY, read_formulary


def own_formulary() -> Path:
    """Return where the practice's formulary is looked for; it need not exist."""
    return data_folder() / "formulary.toml"


def write_empty_formulary(path: Path) -> None:
    """Write the empty formulary with its explanation, mode 0600. Raises DictateError where the
    name does not end in .toml, something of that name exists, or it cannot be written."""
    if path.suffix.lower() != ".toml":
        raise DictateError(
            f"A formulary is a TOML file: give a name that ends in .toml, not {path}."
        )
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(EMPTY_FORMULARY.read_bytes())
    except FileExistsError as error:
        raise DictateError(f"{path} exists and is left as it is: give another name.") from error
    except OSError as error:
        raise DictateError(
            f"{path} cannot be written ({error.strerror}): check the folder, or give another."
        ) from error


def checked_formulary(path: Path) -> str:
    """Return in one sentence that a formulary can be used: its agents, who signed it and when.
    Raises DictateError, one sentence, where it cannot be used."""
    try:
        formulary, signed = signed_formulary(read_formulary(path))
    except DictateError as error:
        named = str(error).startswith(path.name)
        raise DictateError(str(error) if named else f"{path.name}: {error}") from error
    agents = ", ".join(
        f"{agent.name} ({' and '.join(agent.limit_mg_per_kg.model_dump(exclude_none=True))})"
        for agent in formulary.agents
    )
    return (
        f"{path.name} can be used: signed by {signed.by} on {signed.on}, with limits of {agents}."
    )
