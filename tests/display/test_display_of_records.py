"""Every recorded case drawn at many moments and sizes: no heat that we know of may break the drawing."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from rich.console import Console

from rampwarden.core.model import Notice, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.display.layout import Surroundings, lay_out
from rampwarden.display.terminal_style import Looks
from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import Mode
from rampwarden.records.header_parameters import parameters_of
from rampwarden.records.record_lines import Header
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay
from rampwarden.schedule_files import read_schedule

CASES = sorted(path.parent for path in Path(__file__).parents[3].glob("replay_logs/*/schedule.toml"))
CONSOLE = Console(width=500)
SIZES = [(40, 12), (60, 20), (100, 30), (200, 60)]
EVERY_LINES = 4000


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_recorded_heat_can_be_drawn_at_every_moment(case: Path) -> None:
    """At its first reading, in the middle of its mishap, at its end."""
    schedule, _ = read_schedule(case / "schedule.toml")
    with RecordReader(next(case.glob("heat.jsonl*"))) as reader:
        run = Replay(Monitor(schedule, parameters_of(reader.header, "x")))
        keeper = PictureKeeper(schedule, about_heat(schedule, Mode.REPLAY, reader.header.started))
        for count, line in enumerate(reader):
            for event in run.take(line):
                keeper.tell(event)
            if isinstance(line, Reading | Notice):
                keeper.follow(line, run.monitor.measurement, run.monitor.edges())
            if count < 3 or count % EVERY_LINES == 0:
                draw(keeper, run)
    draw(keeper, run)
    assert not isinstance(line, Header)
    assert keeper.picture().course


def draw(keeper: PictureKeeper, run: Replay) -> None:
    """Draw at every size, as a terminal with and one without blocks is sent it."""
    keeper.show(run.monitor.status())
    picture = keeper.picture()
    around = Surroundings(picture.shown_at_s, datetime(2026, 1, 1, tzinfo=UTC), ("a line",), Looks().text("keys"))
    for width, height in SIZES:
        lines = lay_out(picture, around, width, height, Looks())
        assert len(lines) == height
        assert lines[-1].plain == "keys"
        for looks in (Looks(), Looks("ascii", blocks=False, colour=False)):
            assert b"\x07" not in b"".join(looks.encode(line, CONSOLE) for line in lines)
