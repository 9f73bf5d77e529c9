"""The socket that the pages are served at: so many connections and no more, wherever they come
from."""

from __future__ import annotations

import socket
from typing import Any

MOST_OPEN = 64
"""Connections that are open at once, of all who come."""
MOST_OF_ONE = 16
"""Connections that one address has open. A browser opens six, and one for each screen."""


class Doorstep(socket.socket):
    """A listening socket that hangs up on whoever comes while too many are there.

    Connections that say nothing, or that never finish what they say, are closed by who serves them;
    until then these bounds keep them from taking all that the process has.
    """

    def __init__(self, family: socket.AddressFamily) -> None:
        super().__init__(family, socket.SOCK_STREAM)
        self._came: list[tuple[socket.socket, str]] = []

    def accept(self) -> tuple[socket.socket, Any]:
        """Return a connection and where it comes from; ConnectionAbortedError where there are too
        many, as for one that was given up before it was taken."""
        connection, address = super().accept()
        who = str(address[0])
        self._came = [each for each in self._came if each[0].fileno() >= 0]
        of_one = sum(whose == who for _, whose in self._came)
        if len(self._came) >= MOST_OPEN or of_one >= MOST_OF_ONE:
            connection.close()
            raise ConnectionAbortedError
        self._came.append((connection, who))
        return connection, address
