"""One setting on a line: its name, its value, what it means."""

from __future__ import annotations

from textual import events
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from dictate.settings.sections import Setting, Settings
from dictate.text import harmless

_NAME_WIDTH = 13
_VALUE_WIDTH = 20


class SettingRow(Widget):
    """A setting that can be chosen; a click on its value asks to change it."""

    can_focus = True
    ALLOW_SELECT = False
    COMPONENT_CLASSES = {"setting--value", "setting--meaning"}  # noqa: RUF012
    DEFAULT_CSS = """
    SettingRow {
        height: 1;
        padding: 0 1;
        text-wrap: nowrap;
        .setting--value { text-style: bold; }
        .setting--meaning { color: $secondary; }
        &:focus {
            color: $background;
            background: $foreground;
            .setting--meaning { color: $background; }
        }
    }
    """

    settings: reactive[Settings] = reactive(Settings())

    class ValueClicked(Message):
        """The value of a setting was clicked."""

        def __init__(self, row: SettingRow) -> None:
            super().__init__()
            self.row = row

    def __init__(self, setting: Setting, settings: Settings) -> None:
        super().__init__()
        self.setting = setting
        self.set_reactive(SettingRow.settings, settings)

    def on_click(self, event: events.Click) -> None:
        """Choose the setting, and ask to change it where its value was clicked."""
        self.focus()
        at = event.get_content_offset(self)
        if at is not None and 0 <= at.x - _NAME_WIDTH - 1 < _VALUE_WIDTH:
            self.post_message(self.ValueClicked(self))

    def render(self) -> Content:
        """Draw the line; what has no room is cut."""
        value = harmless(self.setting.words_of(self.setting.value_in(self.settings)))
        name = Content(self.setting.shown.name).truncate(_NAME_WIDTH, ellipsis=True, pad=True)
        shown = Content(value).truncate(_VALUE_WIDTH, ellipsis=True, pad=True)
        room = max(1, self.content_size.width - _NAME_WIDTH - _VALUE_WIDTH - 2)
        meaning = Content(self.setting.meaning).truncate(room, ellipsis=True)
        return Content.assemble(
            name,
            " ",
            shown.stylize(self.get_visual_style("setting--value")),
            " ",
            meaning.stylize(self.get_visual_style("setting--meaning")),
        )
