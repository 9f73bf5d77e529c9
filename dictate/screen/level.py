"""How loud the input is: a bar, its level and the room's in words, and whether it is clipped."""

from __future__ import annotations

from collections import deque
from time import monotonic

from textual.content import Content
from textual.widget import Widget

_QUIETEST_DBFS = -60.0
_CLIPPING_SHOWN_S = 2.0
_DRAWINGS_PER_S = 8
_ROOM_S = 10
_QUIET_SHARE = 0.1


class LevelBar(Widget):
    """A bar from -60 to 0 dBFS. It shows the loudest block since it was last drawn, the level of
    the room (which a tenth of the last ten seconds' drawings were below), and the word CLIPPING for
    two seconds after a block that was clipped."""

    COMPONENT_CLASSES = {"level--clipping", "level--scale"}  # noqa: RUF012
    DEFAULT_CSS = """
    LevelBar {
        height: 1;
        text-wrap: nowrap;
        .level--scale { color: $secondary; }
        .level--clipping { color: white; background: $error; text-style: bold; }
    }
    """
    ALLOW_SELECT = False

    def __init__(self) -> None:
        super().__init__()
        self._loudest: float | None = None
        self._dbfs: float | None = None
        self._drawn: deque[float] = deque(maxlen=_ROOM_S * _DRAWINGS_PER_S)
        self._clipped_at = -_CLIPPING_SHOWN_S

    def on_mount(self) -> None:
        """Draw at a steady pace, however often a level is told."""
        self.set_interval(1 / _DRAWINGS_PER_S, self._draw_loudest)

    def take(self, dbfs: float, clipping: bool) -> None:
        """Take the level of one block of sound."""
        self._loudest = dbfs if self._loudest is None else max(self._loudest, dbfs)
        if clipping:
            self._clipped_at = monotonic()

    def clear(self) -> None:
        """Show that there is no input."""
        self._loudest = self._dbfs = None
        self._drawn.clear()
        self.refresh()

    def _draw_loudest(self) -> None:
        if self._loudest is not None:
            self._dbfs, self._loudest = self._loudest, None
            self._drawn.append(self._dbfs)
            self.refresh()

    def render(self) -> Content:
        """Draw the bar."""
        if self._dbfs is None:
            return Content.styled("no sound comes in", self.get_visual_style("level--scale"))
        clipping = monotonic() - self._clipped_at < _CLIPPING_SHOWN_S
        words = f" {self._dbfs:4.0f} dBFS{self._room()}"
        room = max(5, self.size.width - len(words) - len(" CLIPPING "))
        full = round(room * (1 - max(self._dbfs, _QUIETEST_DBFS) / _QUIETEST_DBFS))
        return Content.assemble(
            "█" * full,
            ("·" * (room - full), self.get_visual_style("level--scale")),
            words,
            (" CLIPPING " if clipping else "", self.get_visual_style("level--clipping")),
        )

    def _room(self) -> str:
        """Return the level of the room in words, "" before a second has passed or where there is no
        room for it."""
        if len(self._drawn) < _DRAWINGS_PER_S or self.size.width < 40:
            return ""
        quiet = sorted(self._drawn)[int(len(self._drawn) * _QUIET_SHARE)]
        return f" room {quiet:.0f}"
