"""A heat by the check values of the trade, from its file to the cold pot: written, planned, rehearsed and watched.

Check values: 25 °C per 15 min to 200 °C; about 100 °C/min to 600 °C and on to 1100 °C; 30 min at 1100 °C; at least
90 min of closed cooling. Common practice, no source.
"""

from pathlib import Path

import pytest

from command_line import run_process
from rampwarden.core.model import AlarmState, Event, EventName
from rampwarden.core.monitor import Monitor
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay, schedule_of

pytestmark = pytest.mark.long


SCHEDULE = """
title = "Check values of the trade"
crucible_class = "clay-graphite"
heat = "first"
basis = "common practice, no source"

[[segment]]
name = "drying"
kind = "ramp"
to = "200 C"
max_rate = "25 C / 15 min"

[[segment]]
name = "oven to furnace"
kind = "transfer"
within = "20 min"
arrive_above = "100 C"

[[segment]]
name = "to 600"
kind = "ramp"
to = "600 C"
max_rate = "100 C / min"

[[segment]]
name = "to 1100"
kind = "ramp"
to = "1100 C"
max_rate = "100 C / min"

[[segment]]
name = "at 1100"
kind = "soak"
at = "1100 C"
band = ["-25 C", "+35 C"]
hold = "30 min"
ceiling = "1200 C"

[[segment]]
name = "closed furnace"
kind = "cool"
to = "60 C"
hold = "90 min"
"""


def test_no_part_of_the_product_talks_nonsense_of_it(tmp_path: Path) -> None:
    """Checked, planned and rehearsed without an alarm; the furnace stays shut for its time, and is cold at last."""
    (tmp_path / "trade.toml").write_text(SCHEDULE, encoding="utf-8")
    checked = run_process(tmp_path, "schedule", "check", "trade.toml")
    assert checked.status == 0
    assert "cool to 60 °C, shut for at least 1 h 30 min" in checked.output
    planned = run_process(tmp_path, "plan", "trade.toml", "--start", "07:30")
    assert "will not work" not in planned.output
    assert "1 h 30 min" in planned.output
    pace = ("--speed", "6000", "--interval", "2", "--record", "trade.jsonl")
    rehearsed = run_process(tmp_path, "rehearse", "trade.toml", *pace)
    assert rehearsed.status == 0, rehearsed.output
    with RecordReader(tmp_path / "trade.jsonl") as reader:
        monitor = Monitor(schedule_of(reader.header, "trade"))
        events: list[Event] = list(Replay(monitor).events(reader))
    assert [each.alarm for each in events if each.state is AlarmState.UNACKNOWLEDGED] == []
    shut_s = next(each.time_s for each in events if each.segment == "closed furnace")
    done_s = next(each.time_s for each in events if each.event is EventName.HEAT_COMPLETE)
    assert done_s - shut_s >= 90 * 60
