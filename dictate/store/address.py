"""Where the cases are: a file of SQLite, or a database of PostgreSQL that several stations share.

The password of an address stands in no sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, quote_plus

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from dictate.errors import DictateError

POSTGRESQL = "postgresql+psycopg"
_DRIVERS = {
    "sqlite": "sqlite",
    "sqlite+pysqlite": "sqlite",
    "postgres": POSTGRESQL,
    "postgresql": POSTGRESQL,
    POSTGRESQL: POSTGRESQL,
}
_EXAMPLE = f"write {POSTGRESQL}://user@host/database, or sqlite:///file"
_SECRETS = ("password", "sslpassword")
_HIDDEN = "***"


@dataclass(frozen=True)
class StoreAddress:
    """Where cases are kept: `file` is the file of SQLite, None for PostgreSQL; `name` is what
    people read."""

    url: URL
    name: str
    file: Path | None

    def without_secrets(self, text: str) -> str:
        """Return a text with the passwords of the address taken out."""
        stated = [self.url.password, *(self.url.query.get(each) for each in _SECRETS)]
        for secret in (str(each) for each in stated if each):
            for written in {
                secret,
                quote(secret, safe=""),
                quote(secret, safe=" +"),
                quote_plus(secret),
            }:
                text = text.replace(written, _HIDDEN)
        return text


def address_of(store: Path | str) -> StoreAddress:
    """Return the address of a file, or that a URL states; raises DictateError where it is none."""
    if isinstance(store, Path):
        return StoreAddress(URL.create("sqlite", database=str(store)), str(store), store)
    try:
        url = make_url(store)
    except (ArgumentError, ValueError) as error:
        raise DictateError(
            f"The address of the practice's database cannot be read: {_EXAMPLE}."
        ) from error
    driver = _DRIVERS.get(url.drivername)
    if driver is None or not url.database:
        wanting = "names no database" if driver else "is of a kind that dictate cannot use"
        raise DictateError(f"The address of the practice's database {wanting}: {_EXAMPLE}.")
    if driver == "sqlite":
        return address_of(Path(url.database))
    host = url.host or url.query.get("host") or "this machine"
    port = f":{url.port}" if url.port else ""
    return StoreAddress(
        url.set(drivername=driver), f"database {url.database} on {host}{port}", None
    )


def hidden_address(text: str) -> str:
    """Return an address as it may be shown: without passwords."""
    if not text:
        return text
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        return _HIDDEN
    query = {key: _HIDDEN if key in _SECRETS else value for key, value in url.query.items()}
    return url.set(query=query).render_as_string(hide_password=True)
