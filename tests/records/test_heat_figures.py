"""A heat's figures, computed from its record in one pass."""

import gzip
import math
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

import replay_cases
from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import Command, CommandName, Event, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import ClaimName
from rampwarden.errors import RecordError
from rampwarden.plan.oxidation import line_dose_s, relative_rate
from rampwarden.records.heat_figures import figures_of
from rampwarden.records.record_identity import header_of, record_id
from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line
from rampwarden.records.record_writer import RecordWriter
from rampwarden.schedule_files import read_schedule

TABLE: dict[str, object] = {
    "title": "up, hold, down",
    "segment": [
        {"name": "up", "kind": "ramp", "to": "600 C", "max_rate": ["60 C / 5 min", "200 C / 15 min"]},
        {"name": "hold", "kind": "soak", "at": "600 C", "band": ["-10 C", "+10 C"], "hold": "60 min"},
        {"name": "down", "kind": "cool", "to": "400 C", "max_rate": "100 C / 10 min"},
    ],
}
HEADER = Header(
    format=FORMAT,
    started="2026-01-10T09:00:00Z",
    id="one",
    title="up, hold, down",
    schedule=TABLE,
    crucible="A3",
    metal="bronze",
    thermocouple="K",
)
UP_S, HELD_S = 3480.0, 7200.0


def nominal_c(time_s: float) -> float:
    """600 K an hour from 20 °C, an hour at 600 °C, and down at 400 K an hour; moving, as a living reading does."""
    if time_s <= UP_S:
        return 20.0 + time_s / 6.0
    return 600.0 + 0.05 * math.sin(1.7 * time_s) if time_s <= HELD_S else 600.0 - (time_s - HELD_S) / 9.0


def heat(until_s: int = 9100, temp_c: Callable[[float], float] = nominal_c, step_s: int = 2) -> list[Line]:
    return [Reading(float(time_s), temp_c=temp_c(time_s)) for time_s in range(0, until_s + 1, step_s)]


def written(folder: Path, lines: list[Line], header: Header = HEADER, *, ended: bool = True) -> Path:
    path = folder / "heat.jsonl"
    end = [End(9100.0, "stopped")] if ended else []
    path.write_bytes(b"".join(encode_line(line, seq) for seq, line in enumerate([header, *lines, *end])))
    return path


def test_a_clean_heat_has_the_figures_of_its_own_course(tmp_path: Path) -> None:
    """Peak, soak, an hour at 600 °C for a dose of sixty minutes and a little, nothing above 700, no alarm."""
    told = figures_of(written(tmp_path, heat()))
    assert (told.record_id, told.mark, told.metal, told.thermocouple) == ("one", "A3", "bronze", "K")
    assert (told.started, told.title) == ("2026-01-10T09:00:00Z", "up, hold, down")
    assert (told.closed, told.complete, told.rehearsal) == (True, True, False)
    assert told.readings == 4551
    assert told.seconds == pytest.approx(9100.0, abs=5.0)  # from the first that is believed
    assert told.peak_c == pytest.approx(600.0, abs=0.1)
    assert told.soaked_s == 3600.0
    assert told.hot_h == told.unseen_s == 0.0
    # 62 min of the hold, and the way from 315 °C up and down at 600 and 400 K an hour: 25 % of 3.8 and 5.7 min.
    assert told.dose_min == pytest.approx(62.0 + 3.94 + 5.9, abs=1.5)
    assert told.alarms == {}
    assert told.file == str(tmp_path / "heat.jsonl")


def test_each_segment_has_its_worst_ramp_against_the_limit_it_came_nearest_to(tmp_path: Path) -> None:
    """At 600 K an hour, 50 of 60 °C in 5 min are nearer than 150 of 200 in 15. Of a cooling it is the fall."""
    up, hold, down = figures_of(written(tmp_path, heat())).segments
    assert (up.number, up.name, up.kind) == (1, "up", "ramp")
    assert (up.limit_c, up.window_s) == (60.0, 300.0)
    assert up.climb_c == pytest.approx(50.0, abs=1.0)
    assert up.seconds == pytest.approx(3420.0, abs=10.0)
    assert (hold.soaked_s, hold.hold_s) == (3600.0, 3600.0)
    assert (down.limit_c, down.window_s) == (100.0, 600.0)
    assert down.climb_c == pytest.approx(66.7, abs=2.0)


def test_a_ramp_that_breaks_its_limit_is_told_with_its_excess_and_its_alarm(tmp_path: Path) -> None:
    """900 K an hour where 720 are allowed: 75 °C in five minutes."""
    hasty = heat(2400, lambda time_s: 20.0 + time_s / 4.0)
    told = figures_of(written(tmp_path, hasty))
    assert told.alarms["ramp-high"] == 1
    assert told.segments[0].climb_c == pytest.approx(75.0, abs=2.0)
    assert not told.complete


def test_mass_and_look_are_what_was_marked_once_the_heat_was_over(tmp_path: Path) -> None:
    """Not what the pot weighed wet, on its way, or in a mark that cannot be read."""
    weighed = [(10.0, "pot-weighs 3.52 kg"), (4000.0, "pot-weighs 3.45 kg"), (4000.0, "pot looks fine so far")]
    afterwards = [(9002.0, "Pot weighs 3.38 kg"), (9003.0, "pot looks even ring"), (9004.0, "pot-weighs much")]
    marks = [Command(time_s, CommandName.MARK, text=text) for time_s, text in (*weighed, *afterwards)]
    over = Command(9001.0, CommandName.END_HEAT)
    lines = sorted([*heat(9000), over, *marks], key=lambda line: line.time_s)
    told = figures_of(written(tmp_path, lines))
    assert (told.mass_after_kg, told.look) == (3.38, "even ring")
    under_way = sorted([*heat(6000), *marks[:3]], key=lambda line: line.time_s)
    without = figures_of(written(tmp_path, under_way))
    assert (without.mass_after_kg, without.look) == (msgspec.UNSET, msgspec.UNSET)


def test_hours_above_700_are_counted(tmp_path: Path) -> None:
    """Half an hour of it."""
    hot = heat(5400, lambda time_s: 20.0 + min(time_s, 4200.0) / 6.0 if time_s < 4200 else 720.0)
    assert figures_of(written(tmp_path, hot)).hot_h == pytest.approx((5400 - 4080) / 3600.0, abs=0.01)


def test_a_soak_that_is_skipped_keeps_what_was_soaked(tmp_path: Path) -> None:
    """Twenty minutes of the sixty."""
    lines = heat()
    at = next(number for number, line in enumerate(lines) if line.time_s >= UP_S - 60.0 + 1200.0)
    lines.insert(at, Command(lines[at].time_s, CommandName.SKIP_SEGMENT, text="enough"))
    told = figures_of(written(tmp_path, lines))
    assert told.segments[1].soaked_s == pytest.approx(1200.0, abs=5.0)
    assert told.soaked_s == told.segments[1].soaked_s


def test_the_soak_of_a_heat_is_that_of_its_hottest(tmp_path: Path) -> None:
    """A drying soak is none."""
    segments = [
        {"name": "dry", "kind": "soak", "at": "100 C", "hold": "5 min"},
        {"name": "work", "kind": "soak", "at": "300 C", "hold": "60 min"},
    ]
    header = msgspec.structs.replace(HEADER, schedule={"title": "two soaks", "segment": segments})
    course = heat(2000, lambda time_s: 100.0 if time_s < 400 else 300.0)
    told = figures_of(written(tmp_path, course, header))
    assert [part.soaked_s for part in told.segments] == [300.0, pytest.approx(1590.0, abs=10.0)]
    assert told.soaked_s == told.segments[1].soaked_s


def test_the_dose_is_that_of_the_account_and_ends_where_the_glaze_has_sealed(tmp_path: Path) -> None:
    """To 950 °C and down again: sealed from 900 on, so the way down burns nothing, and both say one figure."""
    there_and_back = heat(9100, lambda time_s: 20.0 + min(time_s, 9100 - time_s) * 930.0 / 4550.0)
    told = figures_of(written(tmp_path, there_and_back))
    assert told.account is not None
    claimed = told.account.claim(ClaimName.OXIDISED).evidence
    assert claimed is not None
    assert told.dose_min == round(claimed.measure or 0.0, 2) == round(told.account.dose_min, 2)
    up_min = line_dose_s(250.0, 900.0, 650.0 * 4550.0 / 930.0) / 60.0
    assert told.dose_min == pytest.approx(up_min, rel=0.02)


def test_a_time_nobody_watched_is_credited_and_said(tmp_path: Path) -> None:
    """Ten minutes without a reading in the middle of an hour at 600 °C: the dose is that of the whole hour."""
    lines = [line for line in heat() if not 5000.0 < line.time_s < 5600.0]
    whole, gappy = figures_of(written(tmp_path, heat())), figures_of(written(tmp_path, lines))
    assert gappy.unseen_s == pytest.approx(602.0, abs=4.0)
    assert gappy.dose_min == pytest.approx(whole.dose_min, rel=0.001)


def test_a_climb_nobody_watched_is_credited_with_the_mean_of_its_ends(tmp_path: Path) -> None:
    """From 450 to 550 °C in ten minutes: more than the climb itself would cost, and less than ten minutes at 550."""
    lines = [line for line in heat() if not 2580.0 < line.time_s < 3180.0]
    whole, gappy = figures_of(written(tmp_path, heat())), figures_of(written(tmp_path, lines))
    credited_min = 5.0 * (relative_rate(450.0) + relative_rate(550.0))
    climbed_min = line_dose_s(450.0, 550.0, 600.0) / 60.0
    assert gappy.dose_min - whole.dose_min == pytest.approx(credited_min - climbed_min, abs=0.05)


def test_a_steady_soak_under_a_limit_of_its_own_hardly_climbs(tmp_path: Path) -> None:
    """Its worst is what it was, not what it was before."""
    hold = {"name": "hold", "kind": "soak", "at": "600 C", "hold": "60 min", "max_rate": "30 C / 5 min"}
    header = msgspec.structs.replace(HEADER, schedule={"title": "hold", "segment": [hold]})
    [held] = figures_of(written(tmp_path, heat(1200, lambda _: 600.0), header)).segments
    assert held.climb_c == pytest.approx(0.0, abs=0.5)


def test_a_spark_adds_nothing(tmp_path: Path) -> None:
    """What the monitor does not believe, the figures do not count."""
    lines = heat()
    lines[2000] = Reading(lines[2000].time_s, temp_c=1300.0)
    assert figures_of(written(tmp_path, lines)).peak_c == pytest.approx(600.0, abs=0.5)


def test_a_heat_that_was_taken_up_again_has_one_line_a_segment(tmp_path: Path) -> None:
    """Both parts of the ramp, the worse climb of the two; and its soak clock goes on."""
    lines = heat()
    lines.insert(600, Notice(lines[600].time_s, NoticeName.WATCH_RESUMED, text="taken up again"))
    up, hold, _ = figures_of(written(tmp_path, lines)).segments
    assert up.number == 1
    assert up.seconds == pytest.approx(3420.0, abs=10.0)
    assert up.climb_c == pytest.approx(50.0, abs=1.0)
    assert hold.soaked_s == 3600.0


def test_an_unfinished_record_gives_figures_and_says_that_it_is_none_closed(tmp_path: Path) -> None:
    """As far as it goes; a torn last line is no matter."""
    path = written(tmp_path, heat(4000), ended=False)
    path.write_bytes(path.read_bytes()[:-10])
    told = figures_of(path)
    assert (told.closed, told.complete) == (False, False)
    assert told.segments[1].soaked_s == pytest.approx(580.0, abs=10.0)


def test_a_heat_that_is_ended_by_hand_is_not_complete(tmp_path: Path) -> None:
    """It was ended, not done."""
    lines = [*heat(4000), Command(4001.0, CommandName.END_HEAT, text="enough")]
    assert not figures_of(written(tmp_path, lines)).complete


def test_a_rehearsal_is_told_as_one(tmp_path: Path) -> None:
    """The header says so."""
    header = msgspec.structs.replace(HEADER, rehearsal=True)
    assert figures_of(written(tmp_path, heat(100), header)).rehearsal


@pytest.mark.parametrize(
    "lines",
    [[], [Reading(1.0, faults=("open",))], [Reading(1.0)], [Reading(1.0, temp_c=5000.0)]],  # type: ignore[arg-type]
)
def test_a_record_without_a_temperature_has_nothing_to_tell(lines: list[Line], tmp_path: Path) -> None:
    """No reading, an open sensor all along, none with a value, none in range: one clear line."""
    path = written(tmp_path, lines)
    with pytest.raises(RecordError, match="holds no temperature that could be believed"):
        figures_of(path)


def test_a_record_without_a_schedule_takes_a_given_one(tmp_path: Path) -> None:
    """And says so if none is given."""
    path = written(tmp_path, heat(100), msgspec.structs.replace(HEADER, schedule=None))
    with pytest.raises(RecordError, match="carries no schedule"):
        figures_of(path)
    assert figures_of(path, parse_schedule(TABLE, "t")).title == "up, hold, down"


def test_a_record_of_another_format_is_refused(tmp_path: Path) -> None:
    """By the record's own words."""
    path = written(tmp_path, [], msgspec.structs.replace(HEADER, format="rampwarden-heat/9"))
    with pytest.raises(RecordError, match="format 'rampwarden-heat/9'; this version reads rampwarden-heat/1"):
        figures_of(path)


def test_a_record_without_an_id_is_known_by_its_file(tmp_path: Path) -> None:
    """The same file is the same heat wherever it lies; another is another."""
    bare = msgspec.structs.replace(HEADER, id="")
    path = written(tmp_path, heat(100), bare)
    number = figures_of(path).record_id
    assert number.startswith("file-")
    assert record_id(path, header_of(path)) == number
    elsewhere = tmp_path / "elsewhere.jsonl"
    elsewhere.write_bytes(path.read_bytes())
    assert figures_of(elsewhere).record_id == number
    elsewhere.write_bytes(path.read_bytes() + b"\n")
    assert figures_of(elsewhere).record_id != number


def test_a_gzipped_record_gives_the_same_figures(tmp_path: Path) -> None:
    """But for where it lies."""
    path = written(tmp_path, heat(1000))
    packed = tmp_path / "heat.jsonl.gz"
    packed.write_bytes(gzip.compress(path.read_bytes()))
    assert msgspec.structs.replace(figures_of(packed), file="") == msgspec.structs.replace(figures_of(path), file="")


@pytest.mark.parametrize("name", ["fast-while-drying", "overshoot"])
def test_the_figures_agree_with_what_the_watch_itself_says(name: str, tmp_path: Path) -> None:
    """The recorded cases: alarms as often as events raise them, peak as the monitor has it.

    And a record that carries events as the service wrote them gives the same as one of inputs alone.
    """
    folder = replay_cases.CASES / name
    schedule, _ = read_schedule(folder / "schedule.toml")
    told = figures_of(folder / "heat.jsonl.gz", schedule)
    header, lines = replay_cases.case_lines(name)
    writer = RecordWriter.create(tmp_path / "again.jsonl", header)
    monitor = Monitor(schedule)
    raised: dict[str, int] = {}
    for line in lines:
        if isinstance(line, Event | Header):
            continue
        writer.write(line)
        events = [] if isinstance(line, End) else monitor.feed(line)
        writer.write_events(events)
        for event in events:
            if event.raises_alarm and event.alarm:
                raised[event.alarm] = raised.get(event.alarm, 0) + 1
    writer.close()
    assert told.alarms == raised
    assert told.peak_c == round(monitor.highest_c or 0.0, 1)
    again = figures_of(tmp_path / "again.jsonl", schedule)
    assert msgspec.structs.replace(again, file="") == msgspec.structs.replace(told, file="")
