"""What tests of several files share: a PostgreSQL, and stores of both kinds."""

from itertools import count

import pytest

from tests.postgres import NoPostgresError, Postgres

_NUMBERS = count(1)


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
