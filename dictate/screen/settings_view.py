"""The settings on the screen: each can be changed there, and is kept at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import DescendantFocus
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static

from dictate.errors import DictateError
from dictate.listening.metering import RunningMicrophone
from dictate.screen.keys import Key, Keys
from dictate.screen.microphone_view import Devices, MicrophoneView, OpenMicrophone
from dictate.screen.problems import Problems
from dictate.screen.setting_checks import check_to_keep, check_typed
from dictate.screen.setting_row import SettingRow
from dictate.settings import Settings, change_setting
from dictate.settings.sections import Effect, Setting, all_settings
from dictate.text import harmless

Change: TypeAlias = Callable[[Setting, object], Settings]
"""Keeps the new value of a setting; returns all settings, or raises DictateError."""

EFFECTS: dict[Effect, str] = {
    "now": "A change takes effect at once.",
    "listening": "A change takes effect when dictate starts, or with F5 after a problem.",
    "case": "A change holds for cases that are begun from now on, not for this one.",
    "start": "A change takes effect when dictate is started again.",
}
GROUPS = {
    "chart": "CHART",
    "speech": "SPEECH",
    "sounds": "SOUNDS",
    "attention": "ATTENTION",
    "screen": "SCREEN",
    "keep": "KEPT",
}
_TITLE = "SETTINGS   each change is kept at once, in settings.toml"
_MICROPHONE = "speech.microphone"
_KEYS = (
    Key("↑", "up", "screen.choose(-1)"), Key("↓", "down", "screen.choose(1)"),
    Key("←", "less", "screen.step(-1)"), Key("→", "more", "screen.step(1)"),
    Key("Enter", "change", "screen.change"), Key("Del", "default", "screen.default"),
    Key("Esc", "back", "screen.leave"),
)  # fmt: skip
_EDITING_KEYS = (
    Key("Enter", "keep it", "screen.keep_text"), Key("Esc", "leave it as it was", "screen.leave"),
)  # fmt: skip


class _Rows(VerticalScroll, can_focus=False, inherit_bindings=False):
    """The rows, without keys that scroll: the arrows choose a row, which comes into sight."""


class SettingsView(ModalScreen[Settings]):
    """All settings, by group. It ends with the settings as they then are.

    `change` keeps one. `apply` is told all settings after each change, so that the program can take
    over what takes effect at once. `running` is the microphone of an examination that goes on
    behind; without it, nothing else uses sound. `problem` is shown from the beginning.
    """

    CSS = """
    SettingsView { background: transparent; }
    SettingsView #settings { margin-top: 1; height: 1fr; background: $background; }
    SettingsView #title { width: 100%; padding: 0 1; background: $panel; text-style: bold; }
    SettingsView #rows { height: 1fr; scrollbar-size-vertical: 1; }
    SettingsView .group { width: 100%; padding: 0 1; color: $secondary; text-style: bold; }
    SettingsView #about {
        height: auto; min-height: 3; max-height: 5; padding: 0 1; border-top: solid $secondary;
    }
    SettingsView #value { display: none; padding: 0 1; background: $panel; color: $foreground; }
    """
    BINDINGS = [  # noqa: RUF012
        Binding("up", "choose(-1)"),
        Binding("down", "choose(1)"),
        Binding("shift+tab", "choose(-1)"),
        Binding("tab", "choose(1)"),
        Binding("left", "step(-1)"),
        Binding("right", "step(1)"),
        Binding("enter,space", "change"),
        Binding("delete", "default"),
        Binding("escape", "leave"),
    ]

    def __init__(
        self,
        settings: Settings,
        apply: Callable[[Settings], None] | None = None,
        running: RunningMicrophone | None = None,
        problem: str = "",
        change: Change = change_setting,
        devices: Devices | None = None,
        open_microphone: OpenMicrophone | None = None,
    ) -> None:
        super().__init__()
        self._settings = settings
        self._apply = apply or (lambda settings: None)
        self._in_use = running
        self._problem = problem
        self._change = change
        self._devices = devices
        self._open_microphone = open_microphone
        self.chosen: SettingRow | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen from top to bottom."""
        with Vertical(id="settings"):
            yield Label(_TITLE, id="title")
            yield Problems()
            with _Rows(id="rows"):
                yield from self._rows()
            yield Static(id="about", markup=False)
            yield Input(id="value", compact=True, max_length=200)
            yield Keys()

    def _rows(self) -> ComposeResult:
        section = ""
        for setting in (each for each in all_settings() if not each.shown.address):
            if setting.section != section:
                section = setting.section
                yield Label(GROUPS[section], classes="group")
            yield SettingRow(setting, self._settings)

    def on_mount(self) -> None:
        """Choose the first setting."""
        self.query_one(Keys).keys = _KEYS
        if self._problem:
            self.query_one(Problems).tell("file", self._problem)
        self._choose(self.query(SettingRow).first())

    @property
    def is_editing(self) -> bool:
        """Whether a value is being typed."""
        return self.query_one("#value").display

    @on(DescendantFocus)
    def _take_focus(self) -> None:
        if isinstance(self.focused, SettingRow):
            self._choose(self.focused)

    @on(SettingRow.ValueClicked)
    def _take_click(self, message: SettingRow.ValueClicked) -> None:
        self._choose(message.row)
        self._begin_change(message.row.setting)

    def _choose(self, row: SettingRow) -> None:
        """Take a setting in hand at once: the next key, however soon it comes, is meant for it."""
        if self.is_editing:
            self._stop_editing()
        self.chosen = row
        self.set_focus(row)
        # The heading of a group comes into sight with its first setting.
        if row is self.query(SettingRow).first():
            self.query_one("#rows").scroll_home(animate=False)
        self._show_about(row.setting)

    def show_waiting(self, questions: int) -> None:
        """Say that questions wait for an answer on the screen behind, or that none does."""
        waits = "A QUESTION WAITS" if questions == 1 else f"{questions} QUESTIONS WAIT"
        title = f"SETTINGS   {waits}: Esc goes back to answer" if questions else _TITLE
        self.query_one("#title", Label).update(Content(title))

    def action_choose(self, step: int) -> None:
        """Choose the setting before or after; while one is typed, stay."""
        rows = list(self.query(SettingRow))
        if self.is_editing or self.chosen is None:
            return
        at = rows.index(self.chosen) + step
        self._choose(rows[max(0, min(len(rows) - 1, at))])

    def action_step(self, step: int) -> None:
        """Take the value before or after, where there are few, or a smaller or larger number."""
        if self.is_editing or self.chosen is None:
            return
        setting = self.chosen.setting
        value = setting.value_in(self._settings)
        if setting.shown.step is not None:
            self._keep_if_allowed(setting, round(value + step * setting.shown.step, 3))
        elif setting.shown.words:
            self._keep_next(setting, value, step)

    def action_change(self) -> None:
        """Take the next value, or begin to type one."""
        if not self.is_editing and self.chosen is not None:
            self._begin_change(self.chosen.setting)

    def action_default(self) -> None:
        """Go back to the default of the setting."""
        if not self.is_editing and self.chosen is not None:
            self._keep(self.chosen.setting, self.chosen.setting.default)

    def action_leave(self) -> None:
        """Leave the value that is typed as it was; else go back to where one came from."""
        if not self.is_editing:
            self.dismiss(self._settings)
        elif self.chosen is not None:
            self.query_one(Problems).clear("settings")
            self._choose(self.chosen)

    def action_keep_text(self) -> None:
        """Keep the value as it is typed."""
        row = self.chosen
        typed = self.query_one("#value", Input).value
        if row is not None and self._keep(row.setting, row.setting.from_typed(typed)):
            self._choose(row)

    @on(Input.Submitted, "#value")
    def _take_submitted(self, message: Input.Submitted) -> None:
        message.stop()
        self.action_keep_text()

    @on(Input.Changed, "#value")
    def _take_typed(self, message: Input.Changed) -> None:
        """Say at once whether what is typed could be kept."""
        if self.is_editing and self.chosen is not None:
            self._show_about(self.chosen.setting, message.value)

    def _begin_change(self, setting: Setting) -> None:
        if setting.path == _MICROPHONE:
            self._choose_microphone(setting)
        elif setting.shown.words:
            self.action_step(1)
        else:
            self._begin_editing(setting)

    def _begin_editing(self, setting: Setting) -> None:
        field = self.query_one("#value", Input)
        field.value = str(setting.value_in(self._settings))
        field.display = True
        self.query_one(Keys).keys = _EDITING_KEYS
        self.set_focus(field)
        self._show_about(setting, field.value)

    def _stop_editing(self) -> None:
        self.query_one("#value").display = False
        self.query_one(Keys).keys = _KEYS

    def _choose_microphone(self, setting: Setting) -> None:
        view = MicrophoneView(
            setting.value_in(self._settings),
            self._in_use,
            devices=self._devices,
            open_microphone=self._open_microphone,
        )

        def keep(name: str | None) -> None:
            if name is not None:
                self._keep(setting, name)

        self.app.push_screen(view, keep)

    def _keep_next(self, setting: Setting, value: object, step: int) -> None:
        """Keep the next of few values that can be, and say why another was passed over."""
        values = [each for each, _ in setting.shown.words]
        at = values.index(value)
        passed_over = ""
        for further in range(1, len(values)):
            following = values[(at + step * further) % len(values)]
            try:
                check_to_keep(setting, following)
            except DictateError as error:
                passed_over = passed_over or str(error)
                continue
            if self._keep(setting, following) and passed_over:
                self.query_one(Problems).tell("settings", passed_over)
            return
        self.query_one(Problems).tell("settings", passed_over)

    def _keep_if_allowed(self, setting: Setting, value: Any) -> None:
        try:
            setting.check(value)
        except DictateError:
            return
        self._keep(setting, value)

    def _keep(self, setting: Setting, value: Any) -> bool:
        """Keep a value; return whether it could be kept, and say why not."""
        try:
            check_to_keep(setting, value)
            self._settings = self._change(setting, value)
        except DictateError as error:
            # What is wrong with the file stays in its own place, and is not said twice.
            kind = "file" if self._problem and str(error) in self._problem else "settings"
            problem = self._problem if kind == "file" else str(error)
            self.query_one(Problems).tell(kind, f"Not kept: {problem}")
            return False
        for kind in ("settings", "file"):
            self.query_one(Problems).clear(kind)
        for row in self.query(SettingRow):
            row.settings = self._settings
        self._show_about(setting)
        self._apply(self._settings)
        return True

    def _show_about(self, setting: Setting, typed: str | None = None) -> None:
        """Show what a setting means and may be, and what is wrong with what is typed."""
        now = harmless(setting.words_of(setting.value_in(self._settings)))
        first = f"{setting.shown.name}: {now}.  {setting.meaning}"
        second = EFFECTS[setting.shown.effect]
        if typed is not None:
            try:
                check_typed(setting, setting.from_typed(typed))
                second = f"Enter keeps it. {second}"
            except DictateError as error:
                second = str(error)
        self.query_one("#about", Static).update(Content(f"{first}\n{second}"))
