"""Browsers that were admitted: each has a seat, known by a cookie that only its own page gets."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field

COOKIE = "seat"


@dataclass
class Seat:
    """An admitted browser: the name is in the path of its page, the secret in its cookie.

    Browsers send cookies to every port of an address; no other server of this machine can guess the
    path, and so none is sent the cookie.
    """

    name: str = field(default_factory=lambda: secrets.token_urlsafe(18))
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def path(self) -> str:
        """The path of its page."""
        return f"/seat/{self.name}/"


class Seats:
    """The seats, up to `most`; the one taken first is given up for a new one."""

    def __init__(self, most: int = 16) -> None:
        self._most = most
        self._seats: dict[str, Seat] = {}

    def take(self) -> Seat:
        """Return a new seat."""
        if len(self._seats) >= self._most:
            self._seats.pop(next(iter(self._seats)))
        seat = Seat()
        self._seats[seat.name] = seat
        return seat

    def give_up(self) -> None:
        """Let nobody have a seat any more."""
        self._seats.clear()

    def of(self, name: str, secret: str) -> Seat | None:
        """Return the seat of that name, if the secret is its own."""
        seat = self._seats.get(name)
        if seat is None or not secrets.compare_digest(secret.encode(), seat.secret.encode()):
            return None
        return seat
