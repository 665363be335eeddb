"""What a board sends while a long record is replayed is recorded and judged: nobody is blind longer than need be."""

import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from tests.assembly.broken_off_heat import SCHEDULE, broken_off
from tests.sources.pty_board import PtyBoard, frame_line

from rampwarden.assembly import early_listening, heat_start
from rampwarden.assembly.early_listening import EarlyListening
from rampwarden.assembly.heat_start import WatchedHeat
from rampwarden.assembly.probes import watched_board
from rampwarden.cli.during import watch as command
from rampwarden.clock import HostClock
from rampwarden.core.model import Command, CommandName, Measurement, Notice, NoticeName, Quality, Reading
from rampwarden.errors import SettingsError
from rampwarden.records import Header, RecordReader
from rampwarden.records.recovery.taking_up import TakenUp, take_up
from rampwarden.service import Watch
from rampwarden.settings import Settings, load_settings
from rampwarden.sources import Board
from running_watch import wait_for

MEANWHILE = 12


class Follower:
    """Keeps what was measured."""

    def __init__(self) -> None:
        self.measured: list[Measurement] = []

    def follow(self, item: object, measurement: Measurement | None, edges: object) -> None:
        if isinstance(item, Reading) and measurement is not None:
            self.measured.append(measurement)

    def note_on_disk(self, number: int) -> None:
        pass


@pytest.fixture
def board(tmp_path: Path) -> Iterator[PtyBoard]:
    """Give a board that sends ten readings a second at 100 °C."""
    board, ended = PtyBoard(tmp_path / "board"), threading.Event()

    def send() -> None:
        seq = 0
        while not ended.wait(0.1):
            # 100 °C of type K over a junction at 25 °C.
            board.send(frame_line(seq, 100 * seq, emf_nv=3_096_000))
            seq += 1

    sender = threading.Thread(target=send)
    sender.start()
    yield board
    ended.set()
    sender.join()
    board.unplug()


@pytest.fixture
def begun(
    tmp_path: Path, board: PtyBoard, monkeypatch: pytest.MonkeyPatch
) -> Callable[[Callable[..., TakenUp]], SimpleNamespace]:
    """Give what starts a watch of a broken-off heat with such a taking up, as far as it would run, with its parts."""

    def begin(taking_up: Callable[..., TakenUp]) -> SimpleNamespace:
        parts = SimpleNamespace(boards=[])

        def made(settings: Settings, clock: HostClock) -> Board:
            parts.boards.append(watched_board(settings, clock))
            return parts.boards[-1]

        def run(
            settings: Settings, heat: WatchedHeat, source: Board, clock: HostClock, *_: object, **__: object
        ) -> None:
            parts.heat, parts.source, parts.clock = heat, source, clock
            parts.watch = Watch(source, clock, heat.monitor, heat.writer, [], 60.0, parts.follower)
            parts.use(parts)

        parts.follower = Follower()
        monkeypatch.setattr(early_listening, "watched_board", made)
        monkeypatch.setattr(command, "run_watch", run)
        monkeypatch.setattr(heat_start, "take_up", lambda path, **more: taking_up(parts, path, **more))
        monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path / "run"))
        monkeypatch.chdir(tmp_path)
        for name in [name for name in os.environ if name.startswith("RAMPWARDEN_")]:
            monkeypatch.delenv(name)
        (tmp_path / "schedule.toml").write_text(SCHEDULE)
        file = tmp_path / "settings.toml"
        file.write_text(f'[watch]\nrecords = "heats"\n[board]\nport = "{board.path}"\n[control]\n')
        parts.record = broken_off(load_settings(file, {}, {}).settings, board={"port": str(board.path)})
        parts.use = watch_a_while
        command.watch(schedule=tmp_path / "schedule.toml", config=file)
        return parts

    return begin


def watch_a_while(parts: SimpleNamespace) -> None:
    """Go on with the heat until a word that was said at once has been taken."""
    stop = threading.Event()
    parts.watch.take_up("taken up", (), parts.heat.already_s)
    parts.watch.hear(Command(0.0, CommandName.NOTE, text="back again"))
    running = threading.Thread(target=parts.watch.run, args=(stop,))
    running.start()
    try:
        wait_for(lambda: b"back again" in parts.record.read_bytes(), "the word")
    finally:
        stop.set()
        running.join()


def test_readings_that_come_during_the_replay_are_recorded_and_judged_in_their_order(
    begun: Callable[[Callable[..., TakenUp]], SimpleNamespace],
) -> None:
    """They come after the word that the watch goes on, and before whatever is said once it has caught up."""

    def long_replay(parts: SimpleNamespace, path: Path, **more: object) -> TakenUp:
        taken = take_up(path, **more)  # type: ignore[arg-type]
        wait_for(lambda: parts.boards[0]._lines.valid >= MEANWHILE, "readings during the replay")
        return taken

    parts = begun(long_replay)
    with RecordReader(parts.record) as reader:
        lines = [line for line in reader if not isinstance(line, Header)]
    resumed = next(
        place
        for place, line in enumerate(lines)
        if isinstance(line, Notice) and line.notice is NoticeName.WATCH_RESUMED
    )
    said = next(place for place, line in enumerate(lines) if isinstance(line, Command) and line.text == "back again")
    meanwhile = [line for line in lines[resumed:said] if isinstance(line, Reading)]
    assert lines[resumed].time_s == parts.heat.already_s
    assert len(meanwhile) >= MEANWHILE
    assert parts.heat.already_s < meanwhile[0].time_s < meanwhile[-1].time_s <= lines[said].time_s
    measured = [each for each in parts.follower.measured if each.time_s <= meanwhile[-1].time_s]
    assert [each.time_s for each in measured] == [line.time_s for line in meanwhile]
    assert all(each.quality is Quality.GOOD for each in measured[-MEANWHILE // 2 :])
    assert len(parts.boards) == 1
    assert not parts.boards[0].alive


def test_a_record_that_ends_elsewhere_than_it_seemed_is_gone_on_with_afresh(
    begun: Callable[[Callable[..., TakenUp]], SimpleNamespace],
) -> None:
    """What was dated by a wrong beginning is let go, and the board is opened anew by the right one."""

    def mistaken(parts: SimpleNamespace, path: Path, listen: Callable[[float], None], **more: object) -> TakenUp:
        return take_up(path, listen=lambda now_s: listen(now_s - 5.0), **more)  # type: ignore[arg-type]

    parts = begun(mistaken)
    first, second = parts.boards
    assert parts.source is second
    assert not first.alive


def test_whoever_refuses_to_start_leaves_no_board_open(
    begun: Callable[[Callable[..., TakenUp]], SimpleNamespace],
) -> None:
    """The port is free for the next start."""
    kept: list[SimpleNamespace] = []

    def refuse(parts: SimpleNamespace, path: Path, **more: object) -> TakenUp:
        kept.append(parts)
        take_up(path, **more)  # type: ignore[arg-type]
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        begun(refuse)
    assert len(kept[0].boards) == 1
    assert not kept[0].boards[0].alive


def test_a_board_whose_settings_make_no_sense_is_said_only_when_the_heat_has_been_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Said during the replay it would be taken for a record that cannot be read."""

    def nonsense(settings: Settings, clock: HostClock) -> Board:
        raise SettingsError("board: makes no sense")

    monkeypatch.setattr(early_listening, "watched_board", nonsense)
    with EarlyListening(Settings()) as listening:
        listening.begin(5.0)
        with pytest.raises(SettingsError, match="makes no sense"):
            listening.from_time_s(5.0)
