"""What the service manager is told: ready without a board, alive only while the watch moves on, reloading, stopping."""

import signal
import socket
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from tests.running_watch import Manager, running_watch, wait_for

from rampwarden.core.model import HeatStatus
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.sd_notify import ServiceNotifier, notify

# Two seconds are promised, and a tenth is usual; a computer that runs other tests beside may take longer to get to it.
PATIENCE_S = 20.0


@pytest.fixture
def manager() -> Iterator[Manager]:
    """A service manager that listens."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        listening = Manager(Path(folder) / "notify")
        yield listening
        listening.close()


def status(time_s: float, segment: str = "drying") -> HeatStatus:
    monitor = Monitor(Schedule("A heat", (Segment("drying", SegmentKind.RAMP, to_c=200.0),)))
    return msgspec.structs.replace(monitor.status(), time_s=time_s, segment=segment)


# The messages


def test_a_message_reaches_a_manager_with_a_path_and_one_with_an_abstract_name(tmp_path: Path) -> None:
    """Both are in use; a leading @ stands for the null byte."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        for abstract in (False, True):
            manager = Manager(Path(folder) / "notify", abstract=abstract)
            assert notify(manager.address, "READY=1") is True
            assert manager.hear() == {"READY": "1"}
            manager.close()


@pytest.mark.parametrize(
    "address", ["", "/nowhere/at/all", "@nobody-listens-there", "vsock:2:1234", "/a\0b", "/" + "x" * 200]
)
def test_a_manager_that_is_not_there_is_no_error(address: str) -> None:
    """The watch runs without one as well."""
    assert notify(address, "READY=1") is False


def test_a_manager_that_does_not_read_holds_up_nobody(manager: Manager) -> None:
    """Its queue fills, and the message is not taken; a watch that waited for it would never get to the last."""
    taken = [notify(manager.address, "STATUS=" + "x" * 4000) for _ in range(10_000)]
    assert taken[0] is True
    assert taken[-1] is False


def test_first_shown_is_ready_and_each_time_after_that_is_alive(manager: Manager) -> None:
    """Ready means that the loop runs: there is no temperature yet."""
    notifier = ServiceNotifier(manager.address, lambda: True)
    notifier.show(status(0.0))
    notifier.show(status(1.0))
    assert manager.hear() == {"STATUS": "no temperature · drying (1 of 1)", "WATCHDOG": "1", "READY": "1"}
    assert manager.hear() == {"STATUS": "no temperature · drying (1 of 1)", "WATCHDOG": "1"}


def test_ready_is_said_again_when_it_was_not_taken(manager: Manager) -> None:
    """A service whose one READY was lost would be killed for being late."""
    while notify(manager.address, "STATUS=" + "x" * 4000):
        pass
    notifier = ServiceNotifier(manager.address, lambda: True)
    notifier.show(status(0.0))
    while not manager.is_quiet():
        pass
    notifier.show(status(1.0))
    assert manager.hear()["READY"] == "1"


def test_a_watch_whose_clock_stands_still_is_not_called_alive(manager: Manager) -> None:
    """Its loop may still turn; it watches nothing."""
    notifier = ServiceNotifier(manager.address, lambda: True)
    for time_s in (5.0, 5.0, 6.0):
        notifier.show(status(time_s))
    assert ["WATCHDOG" in manager.hear() for _ in range(3)] == [True, False, True]


def test_a_watch_whose_reader_has_died_is_not_called_alive(manager: Manager) -> None:
    """Its silence would be honest and for ever; started again, it reads."""
    notifier = ServiceNotifier(manager.address, lambda: False)
    notifier.show(status(5.0))
    assert manager.hear() == {"STATUS": "the watch has stopped moving", "READY": "1"}


def test_a_segments_name_cannot_add_a_line_of_its_own(manager: Manager) -> None:
    """A schedule is somebody else's text."""
    notifier = ServiceNotifier(manager.address, lambda: True)
    notifier.show(status(1.0, segment="x\nSTOPPING=1"))
    assert "STOPPING" not in manager.hear()


def test_a_reload_is_announced_with_the_steady_time_and_ends_ready(manager: Manager) -> None:
    """As the manager's protocol wants it: microseconds of the monotonic clock."""
    notifier = ServiceNotifier(manager.address, lambda: True)
    before_us = time.monotonic_ns() // 1000
    notifier.reloading()
    notifier.reloaded()
    notifier.close()
    reloading = manager.hear()
    assert reloading["RELOADING"] == "1"
    assert before_us <= int(reloading["MONOTONIC_USEC"]) <= time.monotonic_ns() // 1000
    assert manager.hear() == {"READY": "1"}
    assert manager.hear() == {"STOPPING": "1"}


# The service


def test_a_watch_is_ready_and_alive_without_its_board_and_with_it() -> None:
    """At boot the board may be missing, and that is for the alarm to say, not for a start that fails."""
    with running_watch(plugged_in=False) as watch:
        ready = watch.manager.hear()
        assert ready["READY"] == "1"
        assert "no temperature" in ready["STATUS"]
        watch.manager.hear_until(WATCHDOG="1")
        watch.plug_in()
        wait_for(lambda: watch.recorded("reading"), "no reading came")
        while "25 °C" not in watch.manager.hear_until(WATCHDOG="1")["STATUS"]:
            pass


@pytest.mark.parametrize("port", ["there", "away", "hanging"])
def test_a_service_asked_to_stop_closes_its_record_says_so_and_is_gone(port: str) -> None:
    """Also while it is connecting to a remote port that does not answer."""
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen(0)
        waiting = [socket.socket() for _ in range(3)]
        for each in waiting:
            each.setblocking(False)
            each.connect_ex(silent.getsockname())
        remote = ("--port", f"socket://127.0.0.1:{silent.getsockname()[1]}") if port == "hanging" else ()
        with running_watch(plugged_in=port == "there", options=remote) as watch:
            watch.manager.hear_until(READY="1")
            watch.send_signal(signal.SIGTERM)
            assert watch.process.wait(PATIENCE_S) == 0
            assert watch.manager.hear_until(STOPPING="1")
            assert watch.recorded("end")[0]["reason"] == "stopped"
            assert not list(watch.runtime.glob("*.sock"))
        for each in waiting:
            each.close()


def test_a_reload_opens_the_port_anew_applies_what_may_change_and_names_what_may_not() -> None:
    """The limits of a running heat are those it began with."""
    with running_watch() as watch:
        watch.manager.hear_until(READY="1")
        wait_for(lambda: watch.recorded("reading"), "no reading came")
        text = watch.settings.read_text(encoding="utf-8")
        changed = '[watch]\nstatus_every = "1 s"\n[signal]\nlost_after = "90 s"\n[alarms.ramp-high]\npriority = "low"\n'
        watch.settings.write_text(text + changed, encoding="utf-8")
        watch.send_signal(signal.SIGHUP)
        reloading = watch.manager.hear_until(RELOADING="1")
        assert int(reloading["MONOTONIC_USEC"]) > 0
        watch.manager.hear_until(READY="1")
        wait_for(lambda: watch.says("reload: "), "nothing said of the reload")
        said = next(str(line["event"]) for line in watch.log() if "reload: " in str(line["event"]))
        assert said == (
            "reload: the port is opened anew; applied: watch.status_every; changed, but not for a running heat: "
            "alarms.ramp-high.priority, signal.lost_after"
        )
        wait_for(lambda: len(notices(watch.recorded("notice"), "port-opened")) == 2, "the port was not opened anew")
        before = len(watch.recorded("reading"))
        wait_for(lambda: len(watch.recorded("reading")) > before, "no reading after the reload")
        began = sum(line.get("kind") == "status" for line in watch.log())
        wait_for(lambda: sum(line.get("kind") == "status" for line in watch.log()) >= began + 2, "no more status lines")
        assert watch.process.poll() is None


def test_settings_that_cannot_be_read_change_nothing_but_the_port_is_opened_anew() -> None:
    """A slip of the pen must not end a heat."""
    with running_watch() as watch:
        watch.manager.hear_until(READY="1")
        wait_for(lambda: watch.recorded("reading"), "no reading came")
        watch.settings.write_text("[watch]\nstatus_evry = 3\n", encoding="utf-8")
        watch.send_signal(signal.SIGHUP)
        watch.manager.hear_until(RELOADING="1")
        watch.manager.hear_until(READY="1")
        wait_for(lambda: watch.says("the old ones stay: "), "nothing said of the fault")
        assert watch.says("did you mean status_every?")
        wait_for(lambda: len(notices(watch.recorded("notice"), "port-opened")) == 2, "the port was not opened anew")
        assert watch.process.poll() is None


def notices(lines: list[dict[str, object]], name: str) -> list[dict[str, object]]:
    return [line for line in lines if line["notice"] == name]


def test_without_a_manager_nothing_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    """Most watches run without one."""
    monkeypatch.setattr(socket, "socket", lambda *_: pytest.fail("a socket was made"))
    notifier = ServiceNotifier("", lambda: True)
    notifier.show(status(1.0))
    notifier.reloading()
    notifier.close()
