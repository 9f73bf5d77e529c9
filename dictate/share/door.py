"""The process that serves the pages of the second screen; it ends when the charting process does.

Run as `python -m dictate.share.door`; it is told what to serve on its standard input.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import logging
import os
import socket
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from aiohttp import web

from dictate.errors import DictateError
from dictate.share.address import ShareAddress
from dictate.share.certificate import Certificate, certificate_for
from dictate.share.codes import Gate
from dictate.share.door_messages import TURN_AWAY, Code, DoorTold, Failed, Serve, Serving
from dictate.share.doorstep import Doorstep
from dictate.share.pages import Pages, drawing_from

_ENDS_WITHIN_S = 2.0
_WAITING_AT_MOST = 16
_LINGERS_S = 1.0
_SAYS_NOTHING_S = 15.0
"""A connection over which no whole request has come for so long is closed."""


def main() -> None:
    """Serve until standard input ends."""
    told_to = os.fdopen(os.dup(sys.stdout.fileno()), "w")
    # What the packages below print would come among what is told.
    sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115
    logging.disable(logging.CRITICAL)
    serve = Serve.model_validate_json(sys.stdin.buffer.readline())
    try:
        asyncio.run(_serve(serve, told_to))
    except DictateError as error:
        _tell(told_to, Failed(problem=str(error)))


async def _serve(serve: Serve, told_to: TextIO) -> None:
    listening = _listen(serve)
    address = ShareAddress(serve.host, listening.getsockname()[1])
    certificate = _certificate(address, Path(serve.folder))
    gate = Gate(told=lambda: _tell_code(told_to, gate))
    pages = Pages(address, gate, drawing_from(serve.socket))
    runner = _runner(pages)
    await runner.setup()
    context = certificate.context() if certificate else None
    await web.SockSite(runner, listening, ssl_context=context, backlog=_WAITING_AT_MOST).start()
    fingerprint = certificate.fingerprint if certificate else ""
    _tell(told_to, Serving(url=f"{address.origin}/", fingerprint=fingerprint))
    _tell_code(told_to, gate)
    while await asyncio.to_thread(sys.stdin.buffer.readline) == TURN_AWAY:
        await pages.turn_away()
    gate.shut()
    await runner.cleanup()
    _clear_away(Path(serve.socket))


def _runner(pages: Pages) -> web.AppRunner:
    """Return what serves pages, and waits for nobody for long."""
    return web.AppRunner(
        pages.application(),
        access_log=None,
        shutdown_timeout=_ENDS_WITHIN_S,
        keepalive_timeout=_SAYS_NOTHING_S,
        lingering_time=_LINGERS_S,
    )


def _clear_away(follow: Path) -> None:
    """Remove the private socket and its folder, where the charting process was killed before it
    could."""
    with contextlib.suppress(OSError):
        follow.unlink(missing_ok=True)
        follow.parent.rmdir()


def _certificate(address: ShareAddress, folder: Path) -> Certificate | None:
    if not address.leaves_the_machine:
        return None
    return certificate_for(address.host, folder, datetime.now(UTC))


def _listen(serve: Serve) -> socket.socket:
    """Return a socket at the address; where its port is taken, at another one if that will do."""
    family = socket.AF_INET6 if ":" in serve.host else socket.AF_INET
    for port in (serve.port, 0) if serve.any_port else (serve.port,):
        listening = Doorstep(family)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((serve.host, port))
            return listening
        except OSError as error:
            listening.close()
            why = error
    raise DictateError(_why_not(serve, why)) from why


def _why_not(serve: Serve, error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"Port {serve.port} of {serve.host} is taken: name another one."
    if error.errno == errno.EADDRNOTAVAIL:
        return f"{serve.host} is no address of this machine: name one that is."
    return f"{serve.host}:{serve.port} cannot be used ({error.strerror}): name another address."


def _tell_code(told_to: TextIO, gate: Gate) -> None:
    _tell(told_to, Code(code=gate.code, wrong=gate.wrong_in_all))


def _tell(told_to: TextIO, told: DoorTold) -> None:
    told_to.write(told.model_dump_json() + "\n")
    told_to.flush()


if __name__ == "__main__":
    main()
