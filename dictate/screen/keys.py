"""The keys, on the last line; each can be clicked."""

from __future__ import annotations

from textual import events
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

_KEYS = (
    ("F2", "yes", "say('yes')"),
    ("F3", "no", "say('no')"),
    ("^Z", "undo", "say('undo')"),
    ("^Y", "redo", "say('redo')"),
    ("^←", "back", "say('previous tooth')"),
    ("^→", "next", "say('next tooth')"),
    ("F6", "light", "turn_light"),
    ("^Q", "quit", "quit"),
)
_LISTEN_AGAIN = ("F5", "listen", "listen_again")


class Keys(Widget):
    """What the keys do; ^ stands for Ctrl. F5 is named while `can_listen` is set."""

    COMPONENT_CLASSES = {"keys--key"}  # noqa: RUF012
    DEFAULT_CSS = """
    Keys {
        height: 1;
        padding: 0 1;
        text-wrap: nowrap;
        .keys--key { color: $background; background: $foreground; text-style: bold; }
    }
    """
    ALLOW_SELECT = False

    can_listen: reactive[bool] = reactive(False)

    def _places(self) -> list[tuple[int, str, str, str]]:
        """Return column, key, name and action of each, wider apart where there is room."""
        keys = [_LISTEN_AGAIN, *_KEYS] if self.can_listen else [*_KEYS]
        length = sum(len(key) + 1 + len(name) for key, name, _ in keys)
        gap = max(1, min(4, (self.content_size.width - length) // (len(keys) - 1)))
        places = []
        column = 0
        for key, name, action in keys:
            places.append((column, key, name, action))
            column += len(key) + 1 + len(name) + gap
        return places

    def render(self) -> Content:
        """Draw the keys."""
        style = self.get_visual_style("keys--key")
        drawn = Content()
        for column, key, name, _ in self._places():
            gap = " " * (column - drawn.cell_length)
            drawn += Content.assemble(gap, (key, style), f" {name}")
        return drawn

    async def on_click(self, event: events.Click) -> None:
        """Do what the key under the pointer does."""
        at = event.get_content_offset(self)
        for column, key, name, action in self._places():
            if at and 0 <= at.x - column <= len(key) + len(name):
                await self.app.run_action(action)
