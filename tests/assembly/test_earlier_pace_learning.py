"""Earlier heats are learnt beside the watch: in a thread that nobody waits for, and that ends with the watch."""

import threading
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from structlog.testing import capture_logs

from rampwarden.assembly import earlier_pace_learning
from rampwarden.assembly.earlier_pace_learning import EarlierHeatsLearner
from rampwarden.core.model import EarlierHeat
from rampwarden.records import FORMAT, Header, Learnt

LONG_S = 30.0
HEATS = [EarlierHeat(0.0, each) for each in ("a", "b", "c")]


def header() -> Header:
    return msgspec.convert(
        {"kind": "header", "format": FORMAT, "started": "2026-01-01T09:00:00Z", "id": "now", "schedule": {}}, Header
    )


class Listener:
    """Keeps what is told, and by which thread."""

    def __init__(self) -> None:
        self.heats: list[str] = []
        self.threads: set[threading.Thread] = set()

    def hear(self, heat: EarlierHeat) -> None:
        self.heats.append(heat.heat)
        self.threads.add(threading.current_thread())


def finding(monkeypatch: pytest.MonkeyPatch, find: Callable[[Callable[[], bool]], Learnt]) -> None:
    """Let this be found in whatever folder is looked through."""
    monkeypatch.setattr(earlier_pace_learning, "learn_earlier_heats", lambda _folder, _header, _known, stop: find(stop))


def wait_for(learner: EarlierHeatsLearner) -> None:
    learner._thread.join(LONG_S)
    assert not learner._thread.is_alive()


def said(found: Learnt, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    finding(monkeypatch, lambda _: found)
    with capture_logs() as log:
        learner = EarlierHeatsLearner(tmp_path, header(), (), Listener().hear)
        wait_for(learner)
        learner.close()
    return [str(entry["event"]) for entry in log]


def test_what_is_found_is_told_by_a_thread_of_its_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    finding(monkeypatch, lambda _: Learnt(HEATS, 0))
    listener = Listener()
    learner = EarlierHeatsLearner(tmp_path, header(), (), listener.hear)
    wait_for(learner)
    assert listener.heats == ["a", "b", "c"]
    assert threading.current_thread() not in listener.threads
    learner.close()


def test_nobody_waits_for_a_folder_that_hangs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The watch goes on while it is looked through, and may end before it is."""
    monkeypatch.setattr(earlier_pace_learning, "_PATIENCE_S", 0.0)
    hangs, asked = threading.Event(), threading.Event()

    def hang(_stop: Callable[[], bool]) -> Learnt:
        asked.set()
        hangs.wait(LONG_S)
        return Learnt(HEATS, 0)

    finding(monkeypatch, hang)
    listener = Listener()
    learner = EarlierHeatsLearner(tmp_path, header(), (), listener.hear)
    assert asked.wait(LONG_S)
    assert listener.heats == []
    learner.close()
    assert learner._thread.is_alive()
    assert learner._thread.daemon
    hangs.set()
    wait_for(learner)
    assert listener.heats == [], "the watch is over: nobody hears it any more"


def test_the_search_ends_with_the_watch(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """It asks again and again whether it is to stop."""
    began = threading.Event()

    def search(stop: Callable[[], bool]) -> Learnt:
        while not stop():
            began.set()
        return Learnt([], 0)

    finding(monkeypatch, search)
    learner = EarlierHeatsLearner(tmp_path, header(), (), Listener().hear)
    assert began.wait(LONG_S)
    learner.close()
    wait_for(learner)


def test_the_log_says_from_how_many_and_how_many_could_not_be_read(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert said(Learnt(HEATS, 0), monkeypatch, tmp_path) == [
        "time to go: learnt from 3 earlier heats of this furnace and pot"
    ]
    assert said(Learnt(HEATS[:1], 2), monkeypatch, tmp_path) == [
        "time to go: learnt from an earlier heat of this furnace and pot; 2 records could not be read"
    ]
    assert said(Learnt([], 1), monkeypatch, tmp_path) == [
        "time to go: learnt from no earlier heat of this furnace and pot; a record could not be read"
    ]
    assert said(Learnt([], 0), monkeypatch, tmp_path) == []


def test_a_folder_that_is_not_there_or_cannot_be_read_is_no_harm(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    listener = Listener()
    learner = EarlierHeatsLearner(tmp_path / "nowhere", header(), (), listener.hear)
    wait_for(learner)
    learner.close()
    assert listener.heats == []

    def fails(_stop: Callable[[], bool]) -> Learnt:
        raise PermissionError(13, "Permission denied")

    finding(monkeypatch, fails)
    with capture_logs() as log:
        learner = EarlierHeatsLearner(tmp_path, header(), (), listener.hear)
        wait_for(learner)
        learner.close()
    assert [entry["event"] for entry in log] == ["time to go: earlier heats cannot be read: Permission denied"]
