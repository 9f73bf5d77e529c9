"""What the charting process tells the process that serves the pages, and is told by it.

Over the pipes of that process, one line of JSON each: a code is on no command line, in no
environment and in no file.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

TURN_AWAY = b"turn away\n"
"""Told after Serve, as often as wanted: close every screen, and forget who was admitted."""


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class Serve(_Message):
    """Serve pages at an address for what can be followed at a socket. The certificate is kept in
    `folder`."""

    host: str
    port: int
    any_port: bool
    socket: str
    folder: str


class Serving(_Message):
    """Pages are served at `url`; `fingerprint` of the certificate, "" where nothing is
    encrypted."""

    told: Literal["serving"] = "serving"
    url: str
    fingerprint: str


class Code(_Message):
    """The code that opens the page now, and how many wrong ones were tried so far."""

    told: Literal["code"] = "code"
    code: str
    wrong: int


class Failed(_Message):
    """Nothing is served: a sentence for people."""

    told: Literal["failed"] = "failed"
    problem: str


DoorTold: TypeAlias = Serving | Code | Failed
ANY_DOOR_TOLD: TypeAdapter[DoorTold] = TypeAdapter(Annotated[DoorTold, Field(discriminator="told")])
