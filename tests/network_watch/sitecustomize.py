"""Notes what the network is asked for, in every Python process that is started with this folder in
PYTHONPATH: a line each in the file that NETWORK_NOTES names."""

import os
import sys
import traceback

OPENS = (
    *("socket.bind", "socket.connect", "socket.sendto", "socket.sendmsg"),
    *("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr", "socket.getnameinfo"),
    *("urllib.Request", "http.client.connect"),
)
"""Audit events of Python that ask for something outside the process (docs.python.org, “Audit
events table”)."""


def is_network(event: str, arguments: tuple) -> bool:
    """Whether an audit event asks for a network, or makes a socket for one. A pair of sockets
    within the process, which asyncio wakes itself with, is none."""
    if event == "socket.__new__":
        family = arguments[1]
        return int(family) not in (1, -1)  # AF_UNIX; -1 is one that exists already
    return event in OPENS


def _note(event: str, arguments: tuple) -> None:
    if is_network(event, arguments):
        where = " < ".join(each.name for each in traceback.extract_stack(limit=6)[:-1][::-1])
        line = f"{event} {arguments[1:]!r} in {where}\n"
        descriptor = os.open(_notes, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        os.write(descriptor, line.encode(errors="replace"))
        os.close(descriptor)


_notes = os.environ.get("NETWORK_NOTES")
if _notes:
    with open(_notes, "a", encoding="utf-8") as notes:  # noqa: PTH123
        notes.write(f"watching {os.getpid()}\n")
    sys.addaudithook(_note)
