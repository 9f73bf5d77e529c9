"""Where the second screen is served."""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass

from dictate.errors import DictateError

USUAL_PORT = 8470
_AN_ADDRESS = "give one address of this machine, such as 192.168.1.20 or 192.168.1.20:8470"


@dataclass(frozen=True)
class ShareAddress:
    """An IP address of this machine and a port. Away from the machine itself all is encrypted."""

    host: str = "127.0.0.1"
    port: int = USUAL_PORT

    @property
    def leaves_the_machine(self) -> bool:
        """Whether others than this machine can reach it."""
        return not ipaddress.ip_address(self.host).is_loopback

    @property
    def authority(self) -> str:
        """What a browser names in Host."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"

    @property
    def origin(self) -> str:
        """What a browser names in Origin."""
        return f"{'https' if self.leaves_the_machine else 'http'}://{self.authority}"

    @property
    def websocket_origin(self) -> str:
        """The same for the websocket of the page."""
        return "ws" + self.origin.removeprefix("http")


def read_address(text: str) -> ShareAddress:
    """Return the address that a text names; raise DictateError where it names none, or all."""
    match = re.fullmatch(r"\[([0-9A-Fa-f:.]+)\](?::(\d+))?|([0-9.]+)(?::(\d+))?", text.strip())
    host, port = (match[1] or match[3], match[2] or match[4]) if match else (text.strip(), None)
    try:
        address = ipaddress.ip_address(host)
    except ValueError as error:
        raise DictateError(f"“{text}” is no address: {_AN_ADDRESS}.") from error
    if address.is_unspecified or address.is_multicast:
        raise DictateError(f"{host} is not one address: {_AN_ADDRESS}.")
    number = USUAL_PORT if port is None else int(port)
    if not 1024 <= number <= 65535:
        raise DictateError(f"There is no port {number} to use: choose one from 1024 to 65535.")
    return ShareAddress(str(address), number)


def shared_address(share: bool, share_at: str | None) -> ShareAddress | None:
    """Return where to serve: at `share_at`, or on this machine alone where only `share` is set;
    None where sharing was not asked for. Raises DictateError where `share_at` is no address."""
    if share_at is not None:
        return read_address(share_at)
    return ShareAddress() if share else None
