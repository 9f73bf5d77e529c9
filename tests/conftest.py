"""Every test fails that opens a socket to anywhere, unless it is marked: nothing in dictate does so
but the second screen and the download of a model. Below it what tests of several files share: a
PostgreSQL, and stores of both kinds."""

import contextlib
import os
import sys
from itertools import count

import pytest

from tests.network_watch.sitecustomize import is_network
from tests.postgres import NoPostgresError, Postgres
from tests.whole_case import Watched, keep_visits, run_all

_NUMBERS = count(1)
_asked: list[str] = []


def _watch(event, arguments):
    if is_network(event, arguments):
        _asked.append(f"{event} {arguments[1:]}")


# Vosk loads urllib3, which once, as it is loaded, binds a socket of this machine to see whether
# there is IPv6: whichever test is the first to load it is not to blame.
with contextlib.suppress(ImportError):
    import urllib3.util.connection  # noqa: F401

sys.addaudithook(_watch)


def pytest_configure(config):
    config.addinivalue_line(
        "markers", "network: the test opens sockets of this machine; every other test fails then"
    )


@pytest.fixture(autouse=True)
def no_network(request):
    """Fail the test where it, or what it called, asked for a network without being marked."""
    _asked.clear()
    yield
    asked = list(_asked)
    if asked and request.node.get_closest_marker("network") is None:
        pytest.fail(f"A socket was opened that nobody asked for: {asked[:5]}", pytrace=False)


@pytest.fixture(scope="session")
def commands_run(tmp_path_factory):
    """Every command that ends by itself, run once as people run them, over a kept visit, in a
    process that keeps nothing private; watched for what it asks of a network."""
    folder = tmp_path_factory.mktemp("commands")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DICTATE_DATA", str(folder / "data"))
        before = os.umask(0)
        try:
            keep_visits()
            return run_all(Watched(folder))
        finally:
            os.umask(before)


@pytest.fixture(scope="session")
def postgres():
    """A private PostgreSQL that runs; skips where none can be had."""
    try:
        cluster = Postgres()
        cluster.start()
    except NoPostgresError as error:
        pytest.skip(str(error))
    yield cluster
    cluster.remove()


@pytest.fixture
def database(postgres):
    """The address of an empty database of PostgreSQL."""
    return postgres.make_database(f"cases-{next(_NUMBERS)}")


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request, tmp_path):
    """Where a store is, of either kind: a file, or the address of a database."""
    if request.param == "sqlite":
        return tmp_path / "cases.sqlite"
    return request.getfixturevalue("database")
