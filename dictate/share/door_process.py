"""Starts the process that serves the pages, and takes what it tells."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from pathlib import Path

from dictate.child import command_of, environment
from dictate.errors import DictateError
from dictate.folders import made_data_folder
from dictate.share.address import USUAL_PORT, ShareAddress
from dictate.share.door_messages import ANY_DOOR_TOLD, TURN_AWAY, DoorTold, Failed, Serve

_ENDS_WITHIN_S = 4.0


class DoorProcess:
    """A process beside the charting one: however busy it is, charting goes on as fast.

    `told` is called with what it tells, with a Failed at the end where it ends by itself.
    """

    def __init__(self, told: Callable[[DoorTold], None]) -> None:
        self._told = told
        self._process: asyncio.subprocess.Process | None = None
        self._reading: asyncio.Task[None] | None = None

    async def start(self, address: ShareAddress, follow: Path) -> None:
        """Start it, for what can be followed at the socket `follow`; raises DictateError where it
        cannot be started."""
        serve = Serve(
            host=address.host,
            port=address.port,
            any_port=not address.leaves_the_machine and address.port == USUAL_PORT,
            socket=str(follow),
            folder=str(made_data_folder() / "second_screen"),
        )
        try:
            self._process = await asyncio.create_subprocess_exec(
                *command_of("dictate.share.door"),
                env=environment(),
                stdin=asyncio.subprocess.PIPE,
                stdout=asyncio.subprocess.PIPE,
                stderr=asyncio.subprocess.DEVNULL,
            )
            assert self._process.stdin is not None
            self._process.stdin.write(serve.model_dump_json().encode() + b"\n")
            await self._process.stdin.drain()
        except OSError as error:
            raise DictateError(f"A second screen cannot be served ({error.strerror}).") from error
        self._reading = asyncio.create_task(self._read(self._process))

    def turn_away(self) -> None:
        """Have it close every screen and forget every browser that was admitted."""
        if self._process is not None and self._process.stdin is not None:
            self._process.stdin.write(TURN_AWAY)

    async def end(self) -> None:
        """End it: nothing is served any more."""
        if self._reading is not None:
            self._reading.cancel()
        if self._process is None or self._process.returncode is not None:
            return
        assert self._process.stdin is not None
        self._process.stdin.close()
        try:
            await asyncio.wait_for(self._process.wait(), _ENDS_WITHIN_S)
        except TimeoutError:
            with contextlib.suppress(ProcessLookupError):
                self._process.kill()
            await self._process.wait()

    async def _read(self, process: asyncio.subprocess.Process) -> None:
        assert process.stdout is not None
        failed: Failed | None = None
        while told := await process.stdout.readline():
            read = ANY_DOOR_TOLD.validate_json(told)
            if isinstance(read, Failed):
                failed = read
            else:
                self._told(read)
        self._told(failed or Failed(problem="The second screen has ended by itself."))
