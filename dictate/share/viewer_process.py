"""The process that draws one second screen: keys go in, what a terminal shows comes out."""

from __future__ import annotations

import asyncio
import contextlib
import json
import shlex
from typing import Any

from aiohttp import WSMsgType, web
from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

from dictate.child import command_of
from dictate.share.names import SEAT_VARIABLE, SOCKET_VARIABLE

# "exec": the shell that starts it becomes it, so that to end the one is to end the other.
_COMMAND = f"exec {shlex.join(command_of('dictate.screen.viewer'))}"
_ENDS_WITHIN_S = 3.0
_MOST_COLUMNS, _MOST_ROWS = 400, 200
_LONGEST_KEYS = 4096


class ViewerProcess(AppService):
    """Draws a second screen for a websocket."""

    def __init__(self, websocket: web.WebSocketResponse, socket: str, seat: str) -> None:
        super().__init__(
            _COMMAND,
            write_bytes=websocket.send_bytes,
            write_str=websocket.send_str,
            close=self._close,
            download_manager=DownloadManager(),
        )
        self._websocket = websocket
        self._own = {SOCKET_VARIABLE: socket, SEAT_VARIABLE: seat}

    async def _close(self) -> None:
        await self._websocket.close()

    def _build_environment(self, width: int = 80, height: int = 24) -> dict[str, str]:
        return super()._build_environment(width, height) | self._own

    async def run(self) -> None:
        """Pass on what is drawn; at the end the page is told that there is no more, or what it
        shows would look alive."""
        await super().run()
        await self._close()

    async def serve(self, width: int, height: int) -> None:
        """Draw until the browser goes or there is nothing to draw any more."""
        await self.start(_within(width, _MOST_COLUMNS), _within(height, _MOST_ROWS))
        try:
            async for message in self._websocket:
                if message.type == WSMsgType.TEXT:
                    await self._take(message.data)
        finally:
            await self._end()

    async def _take(self, text: str) -> None:
        """Pass on what the page says; what it should not say is passed over."""
        try:
            kind, *rest = json.loads(text)
        except (ValueError, TypeError):
            return
        what: Any = rest[0] if rest else None
        match kind:
            case "stdin" if isinstance(what, str) and len(what) <= _LONGEST_KEYS:
                await self.send_bytes(what.encode("utf-8", "replace"))
            case "resize" if isinstance(what, dict):
                size = (what.get("width"), what.get("height"))
                if all(type(each) is int for each in size):
                    width, height = (int(each or 0) for each in size)
                    await self.set_terminal_size(
                        _within(width, _MOST_COLUMNS), _within(height, _MOST_ROWS)
                    )
            case "ping" if isinstance(what, str) and len(what) < 40:
                await self._websocket.send_json(["pong", what])
            case "blur":
                await self.blur()
            case "focus":
                await self.focus()

    async def _end(self) -> None:
        try:
            await asyncio.wait_for(self.stop(), _ENDS_WITHIN_S)
        except TimeoutError:
            if self._process is not None:
                with contextlib.suppress(ProcessLookupError):
                    self._process.kill()


def _within(number: int, most: int) -> int:
    return max(2, min(most, number))
