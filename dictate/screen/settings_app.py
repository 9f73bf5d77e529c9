"""The settings on a screen of their own, without a case."""

from __future__ import annotations

from textual.binding import Binding

from dictate.errors import DictateError
from dictate.screen.plain_end import PlainEnd
from dictate.screen.settings_view import SettingsView
from dictate.screen.theme import DARK, LIGHT, theme_name
from dictate.settings import Settings, read_settings

_PUT_RIGHT = "Nothing can be changed here until then; these are the defaults."


class SettingsApp(PlainEnd[None]):
    """Shows the settings until they are left. `view` makes the view, for settings, what is told of
    changes, and a problem."""

    TITLE = "dictate settings"
    ENABLE_COMMAND_PALETTE = False
    CSS = "Screen { background: $background; color: $foreground; overflow: hidden; }"
    BINDINGS = [Binding("ctrl+q", "quit", priority=True)]  # noqa: RUF012

    def __init__(self, view: type[SettingsView] = SettingsView) -> None:
        super().__init__()
        self._view = view
        self.register_theme(DARK)
        self.register_theme(LIGHT)

    def on_mount(self) -> None:
        """Show the settings, or what is wrong with their file."""
        problem = ""
        try:
            settings = read_settings()
        except DictateError as error:
            settings, problem = Settings(), f"{error} {_PUT_RIGHT}"
        self._apply(settings)
        view = self._view(settings, self._apply, problem=problem)
        self.push_screen(view, lambda _: self.exit())

    def _apply(self, settings: Settings) -> None:
        self.theme = theme_name(settings.screen.theme)
