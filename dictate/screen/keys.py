"""The keys, on the last lines; each can be clicked."""

from __future__ import annotations

from dataclasses import dataclass

from textual import events
from textual.content import Content
from textual.geometry import Size
from textual.reactive import reactive
from textual.widget import Widget

from dictate.screen.actions import action_of


@dataclass(frozen=True)
class Key:
    """A key as it is written, what it does in a word, and its action. One that is `spare` is not
    named where there is no room for all."""

    key: str
    name: str
    action: str
    spare: bool = False

    @property
    def width(self) -> int:
        """The columns that it takes."""
        return len(self.key) + 1 + len(self.name)


def _key(run: str, short: str = "", spare: bool = False) -> Key:
    """Return the key of an action, with another word for it if one is given."""
    action = action_of(run)
    return Key(action.key, short or action.short, action.run, spare)


LISTEN = _key("turn_attention")
STOP_LISTENING = _key("turn_attention", "stop")

_HELP, _YES, _NO = _key("show('help')"), _key("answer(1)"), _key("answer(0)")
_UNDO, _REDO = _key("say('undo')"), _key("say('redo')")
_PART = _key("next_part")
_LIGHT, _QUIT = _key("turn_light", spare=True), _key("leave_program")
_CHART = _key("leave")

CHARTING_KEYS = (
    _HELP, _YES, _NO, _PART, _key("show('plan')"), _UNDO, _REDO,
    _key("say('next tooth')", spare=True), _key("say('previous tooth')", spare=True),
    _key("show('findings')", spare=True), _LIGHT, _key("turn_sounds", spare=True),
    _key("show('doubts')", spare=True), _key("show('changes')", spare=True),
    _key("show('big')", spare=True), _key("show_settings", spare=True),
    _key("show_cases", spare=True), _key("say('close the chart')", spare=True), _QUIT,
)  # fmt: skip
_CLOSE, _REOPEN = _key("say('close the chart')", spare=True), _key("say('open the chart again')")
CLOSED_KEYS = tuple(_REOPEN if key == _CLOSE else key for key in CHARTING_KEYS)
FOLLOWING_KEYS = (
    _key("decide('accept')"), _key("decide('change')"), _key("decide('dismiss')"),
    _key("accept_alike"), _key("choose(-1)"), _key("choose(1)"), Key("PgUp", "page", "page(-1)"),
    Key("PgDn", "page", "page(1)"), _CHART, _YES, _NO, _PART, _LIGHT, _UNDO, _REDO, _QUIT,
)  # fmt: skip
EDITING_KEYS = (
    Key("Enter", "keep the text", "keep_text"), Key("Esc", "leave it as it was", "leave"),
    _YES, _NO, _PART, _LIGHT, _QUIT,
)  # fmt: skip
LISTING_KEYS = (_CHART, _HELP, _YES, _NO, _PART, _LIGHT, _UNDO, _REDO, _QUIT)
FINDINGS_KEYS = (_key("take_back_finding"), *LISTING_KEYS)


class Keys(Widget):
    """What `keys` do, on up to `most_lines` lines; ^ stands for Ctrl. The key that
    starts or stops listening is named while `attention` is set."""

    COMPONENT_CLASSES = {"keys--key"}  # noqa: RUF012
    DEFAULT_CSS = """
    Keys {
        height: auto;
        padding: 0 1;
        text-wrap: nowrap;
        .keys--key { color: $background; background: $foreground; text-style: bold; }
    }
    """
    ALLOW_SELECT = False

    attention: reactive[Key | None] = reactive(None, layout=True)
    keys: reactive[tuple[Key, ...]] = reactive(CHARTING_KEYS, layout=True)
    most_lines: reactive[int] = reactive(1, layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines that the keys take."""
        return len(self._lines(width))

    def _lines(self, width: int) -> list[list[Key]]:
        """Return the keys by line, without as many of the spare ones as do not fit."""
        keys = [*([self.attention] if self.attention else []), *self.keys]
        lines = _set_in_lines(keys, width)
        for spare in reversed([key for key in keys if key.spare]):
            if len(lines) > self.most_lines:
                keys.remove(spare)
                lines = _set_in_lines(keys, width)
        return lines

    def _places(self) -> list[tuple[int, int, Key]]:
        """Return column, line and key of each, wider apart where there is room."""
        width = self.content_size.width
        places = []
        for line, keys in enumerate(self._lines(width)):
            length = sum(key.width for key in keys)
            gap = max(1, min(4, (width - length) // max(1, len(keys) - 1)))
            column = 0
            for key in keys:
                places.append((column, line, key))
                column += key.width + gap
        return places

    def render(self) -> Content:
        """Draw the keys."""
        style = self.get_visual_style("keys--key")
        lines: list[Content] = []
        for column, line, key in self._places():
            if line == len(lines):
                lines.append(Content())
            gap = " " * (column - lines[line].cell_length)
            lines[line] += Content.assemble(gap, (key.key, style), f" {key.name}")
        return Content("\n").join(lines)

    async def on_click(self, event: events.Click) -> None:
        """Do what the key under the pointer does."""
        at = event.get_content_offset(self)
        for column, line, key in self._places():
            if at is not None and at.y == line and 0 <= at.x - column < key.width:
                await self.app.run_action(key.action)


def _set_in_lines(keys: list[Key], width: int) -> list[list[Key]]:
    lines: list[list[Key]] = [[]]
    length = 0
    for key in keys:
        if lines[-1] and length + 1 + key.width > width:
            lines.append([])
            length = 0
        length += key.width + (1 if lines[-1] else 0)
        lines[-1].append(key)
    return lines
