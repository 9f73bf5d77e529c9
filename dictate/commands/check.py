"""`dictate check`: what works here."""

from __future__ import annotations

import typer

from dictate.grammar.spoken import spoken_languages
from dictate.terminal import say


def check() -> None:
    """Say what works here; exit code 1 where something that charting needs does not."""
    from dictate.commands.what_works import what_works

    broken = False
    for found in what_works(spoken_languages()):
        sign = "✓" if found.works else ("✗" if found.needed else "–")
        say(f"{sign} {found.what}: {found.sentence}")
        broken = broken or (found.needed and not found.works)
    if broken:
        raise typer.Exit(1)
