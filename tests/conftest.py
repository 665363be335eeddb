"""What every test gets: the same beginning whoever runs it, and no thread that outlives the test that started it."""

import os
import signal
import threading
from collections.abc import Iterator

import pytest
import structlog
from tests.postgres_server import POSTGRES, PostgresServer, shared_server


def pytest_configure() -> None:
    """Give interrupt and hangup their usual meaning: started in the background, we and our children ignore them."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    for name in ("COLUMNS", "LINES"):
        # Set by whoever runs the tests side by side, they outweigh the size a terminal really has.
        os.environ.pop(name, None)


@pytest.fixture(autouse=True)
def usual_log() -> Iterator[None]:
    """Take back how a test had logging set up: the next one's words would go to its closed file."""
    yield
    structlog.reset_defaults()


@pytest.fixture(autouse=True)
def no_leaked_threads() -> Iterator[None]:
    """Fail a test that leaves a thread running: a worker nobody stops is a watch nobody can end."""
    before = set(threading.enumerate())
    yield
    leaked = [thread for thread in threading.enumerate() if thread not in before and thread.is_alive()]
    for thread in leaked:
        thread.join(timeout=2.0)
    still = [thread.name for thread in leaked if thread.is_alive()]
    assert not still, f"threads left running: {still}"


@pytest.fixture(scope="session")
def postgres(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Iterator[PostgresServer]:
    """Give the session's one PostgreSQL server."""
    if POSTGRES is None:
        pytest.skip("no PostgreSQL on this computer: see .ci/need-packages")
    base = tmp_path_factory.getbasetemp()
    with shared_server(base if worker_id == "master" else base.parent) as server:
        yield server


@pytest.fixture
def shop_url(postgres: PostgresServer) -> str:
    """Give an empty database."""
    return postgres.make_database()
