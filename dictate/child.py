"""How this program starts processes of itself."""

from __future__ import annotations

import os
import sys

from dictate.folders import STORE_VARIABLE


def command_of(module: str) -> list[str]:
    """Return the command that runs a module of dictate. The folder that the program happens to be
    run in is not searched for modules (-P): what lies there may be anybody's."""
    return [sys.executable, "-P", "-m", module]


def environment() -> dict[str, str]:
    """Return the environment in which such a command finds the modules that this process finds. The
    address of the database, which may hold a password, is no concern of theirs."""
    others = {name: value for name, value in os.environ.items() if name != STORE_VARIABLE}
    return {**others, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
