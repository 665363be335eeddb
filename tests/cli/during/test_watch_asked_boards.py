"""`rampwarden watch` as a process on boards that must be asked: readings reach the record, what is spoiled is told."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.sources.bus import AskedBoard, BusServer
from tests.sources.pty_board import frame_line

from command_line import environment
from rampwarden.clock import HostClock
from rampwarden.core.model import Notice, NoticeName, Reading
from rampwarden.sources.board import Board, BoardSettings

PATIENCE_S = 40.0
SCHEDULE = '[[segment]]\nname = "up"\nkind = "ramp"\nto = "1000 C"\n'
BUS = 'format = "modbus"\nslave = 2\nregisters = [0, 1]\nscale = 0.1\nopen_values = [32767]\nchannel = "register 1"\n'
INSTRUMENT = 'format = "columns"\ncolumns = ["temp_c"]\nask = ["MEAS:TEMP?"]\n'


def lines_of(record: Path) -> list[dict[str, Any]]:
    """Give the whole lines of a record so far."""
    text = record.read_text(encoding="utf-8") if record.exists() else ""
    return [json.loads(line) for line in text.splitlines(keepends=True) if line.endswith("\n")]


def watched(
    tmp_path: Path, port: Path, board: str, enough: Callable[[list[dict[str, Any]]], bool]
) -> list[dict[str, Any]]:
    """Watch a board until its record has enough, end that as a service is ended, and give the record's lines."""
    (tmp_path / "up.toml").write_text(SCHEDULE, encoding="utf-8")
    settings = f'[board]\nport = "{port}"\ninterval = "0.2 s"\nanswer_within = "0.3 s"\n{board}'
    (tmp_path / "s.toml").write_text(settings, encoding="utf-8")
    record = tmp_path / "heat.jsonl"
    command = [sys.executable, "-c", "from rampwarden.cli import run; run()", "watch", "up.toml", "--plain"]
    process = subprocess.Popen(
        [*command, "--config", "s.toml", "--record", str(record)],
        cwd=tmp_path,
        env=environment(tmp_path),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    try:
        until_s = time.monotonic() + PATIENCE_S
        while not enough(lines_of(record)):
            assert process.poll() is None, process.stderr and process.stderr.read()
            assert time.monotonic() < until_s, lines_of(record)[-5:]
            time.sleep(0.05)
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=PATIENCE_S)
    finally:
        process.kill()
        process.wait()
    return lines_of(record)


def test_a_slave_is_watched_by_the_name_of_its_register_and_a_spoiled_answer_told(tmp_path: Path) -> None:
    """Its second channel alone is followed; the line of the notice says what was wrong with the answer."""
    bus = BusServer(tmp_path / "bus", 2, [239, 1502])
    spoils = iter([b"", b""])

    def torn(data: bytes) -> bytes:
        return data[:-1] + next(spoils, data[-1:])

    def enough(lines: list[dict[str, Any]]) -> bool:
        readings = sum(line["kind"] == "reading" for line in lines)
        if readings > 5:
            bus.spoil = torn
        return readings > 12 and any(line.get("notice") == "garbled" for line in lines)

    try:
        lines = watched(tmp_path, bus.path, BUS, enough)
    finally:
        bus.stop()
    readings = [line for line in lines if line["kind"] == "reading"]
    assert {(line["temp_c"], line["channel"]) for line in readings} == {(150.2, 1)}
    (told,) = [line for line in lines if line.get("notice") == "garbled"]
    assert told["text"] == "only 8 bytes of an answer came within 0.3 s"
    assert lines[0]["board"]["registers"] == [0, 1]
    assert lines[-1]["kind"] == "end"


def test_an_instrument_is_watched_and_its_open_input_rings(tmp_path: Path) -> None:
    """9.9E37 is what it answers then."""
    answers = [b"+2.39E+01\n"] * 8

    def answer(_question: bytes) -> bytes:
        return answers.pop() if answers else b"+9.90000000E+37\n"

    board = AskedBoard(tmp_path / "meter", answer)
    try:
        lines = watched(
            tmp_path, board.path, INSTRUMENT, lambda lines: any(line.get("alarm") == "sensor-open" for line in lines)
        )
    finally:
        board.stop()
    assert [line.get("temp_c") for line in lines if line["kind"] == "reading"][:4] == [23.9] * 4
    assert set(board.asked) == {b"MEAS:TEMP?"}


def test_settings_of_another_board_do_not_hinder_a_rehearsal(tmp_path: Path) -> None:
    """Its model board speaks our frames whatever the settings are for."""
    (tmp_path / "s.toml").write_text('[board]\nport = "x"\nformat = "labels"\nvalues = ["T1"]\nchannel = "T1"\n')
    (tmp_path / "short.toml").write_text('[[segment]]\nname = "up"\nkind = "ramp"\nto = "40 C"\n', encoding="utf-8")
    command = [sys.executable, "-c", "from rampwarden.cli import run; run()", "rehearse", "short.toml", "--plain"]
    ended = subprocess.run(
        [*command, "--config", "s.toml", "--speed", "2000"],
        cwd=tmp_path,
        env=environment(tmp_path),
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
    )
    assert "board." not in ended.stderr
    assert ended.returncode in (0, 1)
    assert any(line["kind"] == "reading" for path in tmp_path.rglob("*.jsonl") for line in lines_of(path))


def test_several_channels_of_our_frames_are_read_side_by_side(tmp_path: Path) -> None:
    """Each with its own numbering; the port's news is the board's."""
    from tests.sources.pty_board import PtyBoard

    plugged = PtyBoard(tmp_path / "board")
    board = Board(BoardSettings(str(plugged.path), also=(3,), silence_s=60.0), HostClock())
    board.start()
    items: list[object] = []
    try:
        until_s = time.monotonic() + PATIENCE_S

        def until(enough: Callable[[], bool]) -> None:
            while not enough():
                assert time.monotonic() < until_s
                item = board.next(0.2)
                if item is not None:
                    items.append(item)

        until(lambda: any(isinstance(item, Notice) for item in items))
        for seq in range(5):
            plugged.send(frame_line(seq, 1000 * seq, 8_000_000, channel=0))
            plugged.send(frame_line(seq if seq < 3 else seq + 2, 1000 * seq, 9_000_000, channel=3))
            plugged.send(frame_line(seq, 1000 * seq, 1_000, channel=7))
        until(lambda: sum(isinstance(item, Reading) for item in items) == 10)
    finally:
        board.stop()
        plugged.unplug()
    readings = [item for item in items if isinstance(item, Reading)]
    assert [item.channel for item in readings] == [0, 3] * 5
    assert {item.emf_uv for item in readings if item.channel == 3} == {9000.0}
    (lost,) = [item for item in items if isinstance(item, Notice) and item.notice is NoticeName.FRAMES_LOST]
    assert lost.count == 2
    assert os.path.lexists(tmp_path / "board") is False
