"""How this program starts processes of itself."""

from __future__ import annotations

import os
import sys


def command_of(module: str) -> list[str]:
    """Return the command that runs a module of dictate. The folder that the program happens to be
    run in is not searched for modules (-P): what lies there may be anybody's."""
    return [sys.executable, "-P", "-m", module]


def environment() -> dict[str, str]:
    """Return the environment in which such a command finds the modules that this process finds."""
    return {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
