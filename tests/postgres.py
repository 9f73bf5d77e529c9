"""A PostgreSQL of the tests' own: a private cluster in a temporary folder, on a socket there."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

from sqlalchemy import URL, create_engine

PASSWORD = "a pass:word/with@signs"
_START_S = 60


class NoPostgresError(Exception):
    """Why there is no PostgreSQL here."""


def programs() -> Path:
    """Return the folder of PostgreSQL's programs, of the newest version."""
    found = [Path(shutil.which("initdb") or "")] if shutil.which("initdb") else []
    for pattern in ("lib/postgresql/*/bin/initdb", "pgsql-*/bin/initdb"):
        versions = Path("/usr").glob(pattern)
        found += sorted(versions, key=lambda each: _number(each.parts[-3]), reverse=True)
    if not found:
        raise NoPostgresError("PostgreSQL is not installed (Debian: apt-get install postgresql)")
    return found[0].resolve().parent


def _number(words: str) -> int:
    return int("".join(each for each in words if each.isdigit()) or 0)


class Postgres:
    """A cluster that a test starts, stops and kills as it likes; `folder` is its own. A killed
    server loses nothing that it gave to the system, only a power cut would: without `fsync` tests
    are faster, figures are taken with it."""

    def __init__(self, fsync: bool = False) -> None:
        self._programs = programs()
        self.folder = Path(tempfile.mkdtemp(prefix="dictate-pg-"))
        self._user = self._somebody()
        self._data = self.folder / "data"
        secret = self.folder / "secret"
        secret.write_text(PASSWORD)
        if self._user:
            entry = pwd.getpwnam(self._user)
            for each in (self.folder, secret):
                os.chown(each, entry.pw_uid, entry.pw_gid)
            self.folder.chmod(0o755)
        self._run("initdb", "-D", self._data, "-U", "dictate", "--auth=scram-sha-256",
                  f"--pwfile={secret}", "--encoding=UTF8", "--locale=C.UTF-8")  # fmt: skip
        with (self._data / "postgresql.conf").open("a") as settings:
            settings.write(f"listen_addresses = ''\nunix_socket_directories = '{self.folder}'\n")
            settings.write(f"fsync = {'on' if fsync else 'off'}\n")

    @staticmethod
    def _somebody() -> str | None:
        """Return a user without rights, as whom the cluster runs: it never runs as root."""
        return "nobody" if os.geteuid() == 0 else None

    def _run(self, program: str, *arguments: object) -> None:
        command = [str(self._programs / program), *map(str, arguments)]
        who = {"user": self._user, "group": pwd.getpwnam(self._user).pw_gid} if self._user else {}
        log = self.folder / "log"
        with log.open("ab") as out:
            done = subprocess.run(
                command, stdout=out, stderr=out, check=False, cwd=self.folder,
                timeout=_START_S, **who, **({"extra_groups": []} if self._user else {}),
            )  # fmt: skip
        if done.returncode:
            raise NoPostgresError(f"{program} failed: {log.read_text()[-500:]}")

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self._run("pg_ctl", "start", "-w", "-D", self._data, "-l", self.folder / "server.log")

    def stop(self, mode: str = "fast") -> None:
        """Stop it; in the mode "immediate" as if the power had gone."""
        self._run("pg_ctl", "stop", "-w", "-D", self._data, "-m", mode)

    def is_running(self) -> bool:
        """Return whether it runs."""
        try:
            self._run("pg_ctl", "status", "-D", self._data)
        except NoPostgresError:
            return False
        return True

    def kill(self) -> None:
        """Kill the server and all its processes with SIGKILL."""
        pid = int((self._data / "postmaster.pid").read_text().split()[0])
        # Stopped first, so that it starts no more while those that there are are killed.
        os.kill(pid, signal.SIGSTOP)
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        for each in (*map(int, children), pid):
            os.kill(each, signal.SIGKILL)
        # Its number is its own until its parent took note: then another can be started.
        until = time.monotonic() + _START_S
        while Path(f"/proc/{pid}").exists() and time.monotonic() < until:
            time.sleep(0.05)

    def url(self, database: str, password: str | None = PASSWORD) -> str:
        """Return the address of a database, as a practice would set it."""
        url = URL.create("postgresql+psycopg", "dictate", password, database=database,
                         query={"host": str(self.folder)})  # fmt: skip
        return url.render_as_string(hide_password=False)

    def make_database(self, name: str) -> str:
        """Make an empty database; return its address."""
        engine = create_engine(self.url("postgres"), isolation_level="AUTOCOMMIT")
        with engine.connect() as db:
            db.exec_driver_sql(f'CREATE DATABASE "{name}"')
        engine.dispose()
        return self.url(name)

    def remove(self) -> None:
        """Stop it and take everything away."""
        try:
            self.stop("immediate")
        except NoPostgresError:
            pass
        finally:
            shutil.rmtree(self.folder, ignore_errors=True)
