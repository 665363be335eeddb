"""What every test gets: no thread may outlive the test that started it."""

import threading
from collections.abc import Iterator

import pytest


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
