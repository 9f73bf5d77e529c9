"""`dictate settings`: the settings in force and where each comes from; --edit changes them."""

from __future__ import annotations

from typing import Annotated

import typer

from dictate.settings import read_settings, settings_path
from dictate.settings.page import settings_lines
from dictate.terminal import say


def settings(
    edit: Annotated[bool, typer.Option("--edit", help="Change them on the screen.")] = False,
) -> None:
    """Print the settings in force, or change them on the screen."""
    if edit:
        from dictate.screen.settings_app import SettingsApp

        SettingsApp().run()
        return
    in_force = read_settings()
    path = settings_path()
    print(f"# {path}{'' if path.exists() else ' is not there: all is as it comes.'}")
    lines = settings_lines(
        lambda each: "file" if each.is_stated_in(in_force) else "default",
        lambda each: each.shown_in(in_force),
    )
    say(lines.rstrip("\n"))
