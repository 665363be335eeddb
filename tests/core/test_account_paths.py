"""The account of a heat is the same by whatever path it was come to: live, replayed, taken up again, cut anyhow.

The heat is short and rough, so that its account has something of everything: a dry soak in which the board hangs, a
silence, an open sensor, a touch of the dial, a soak at working temperature and a climb that breaks its limit.
"""

import random
import tomllib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import cache
from itertools import pairwise
from pathlib import Path

import msgspec
import pytest

from rampwarden.clock import Moment
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import (
    ClockMark,
    Command,
    CommandName,
    Event,
    EventName,
    Fault,
    Input,
    Notice,
    NoticeName,
    Reading,
)
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import ORDER, ClaimName, ClaimShown, PotAccount
from rampwarden.core.pot.claims import HARMFUL, HELPFUL
from rampwarden.core.schedule import Schedule
from rampwarden.records.record_lines import FORMAT, End, Header
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.record_writer import RecordWriter
from rampwarden.records.recovery import take_up
from rampwarden.records.replay import Replay

TABLE = tomllib.loads("""
title = "A short first heat"
heat = "first"

[[segment]]
name = "oven"
kind = "ramp"
to = "165 C"
max_rate = "30 C / 5 min"

[[segment]]
name = "drying"
kind = "soak"
at = "165 C"
band = ["-15 C", "+15 C"]
hold = "15 min"

[[segment]]
name = "over"
kind = "transfer"
within = "5 min"

[[segment]]
name = "up"
kind = "ramp"
to = "800 C"
max_rate = "60 C / min"

[[segment]]
name = "working"
kind = "soak"
at = "800 C"
band = ["-15 C", "+15 C"]
hold = "10 min"

[[segment]]
name = "down"
kind = "cool"
to = "50 C"
max_rate = "150 C / min"
""")
STARTED = datetime(2026, 1, 10, 9, 0, tzinfo=UTC)
BOOT = "6d1c8a52-0000-4000-8000-000000000001"
ZERO_S = 5000.0
# From each time (s) on, the reading goes straight to the next temperature (°C).
COURSE = (
    (0, 20.0), (1700, 158.0), (1760, 166.0), (3000, 166.0), (3100, 140.0),
    (3700, 600.0), (3780, 700.0), (4000, 797.0), (4700, 801.0), (5300, 45.0), (5400, 40.0),
)  # fmt: skip
HANGS_S, SILENT_S, OPEN_S = range(2100, 2400), range(3250, 3330), range(4100, 4120)
HELP_RANK = {ClaimShown.NOT_SHOWN: 0, ClaimShown.IN_DOUBT: 1, ClaimShown.SHOWN: 2}
SEEDS = range(4)


def schedule() -> Schedule:
    return parse_schedule(TABLE, "test")


def temp_at_c(time_s: int) -> float:
    """Give where the course stands."""
    (from_s, from_c), (to_s, to_c) = next(pair for pair in pairwise(COURSE) if time_s <= pair[1][0])
    return from_c + (to_c - from_c) * (time_s - from_s) / (to_s - from_s)


@cache
def heat() -> tuple[Input, ...]:
    """Give every input of the heat as the watch gets them."""
    return tuple(_inputs(random.Random("a short first heat")))


def _inputs(dice: random.Random) -> Iterator[Input]:
    last_c = 20.0
    yield ClockMark(0.0)
    for second in range(1, COURSE[-1][0] + 1):
        if second == 2600:
            yield Command(second - 0.4, CommandName.MARK, text="dial")
        if second == 3000:
            yield Command(second - 0.3, CommandName.MARK, text="transfer")
        if second == 3110:
            yield Command(second - 0.3, CommandName.MARK, text="arrived")
        if second in SILENT_S:
            continue
        if second in OPEN_S:
            yield Reading(float(second), temp_c=None, faults=(Fault.OPEN,))
            continue
        if second not in HANGS_S:
            last_c = round(4.0 * (temp_at_c(second) + dice.gauss(0.0, 0.4))) / 4.0
        yield Reading(float(second), temp_c=last_c)


def said(monitor: Monitor) -> bytes:
    """Give what the watch says of the pot, to the byte."""
    return msgspec.json.encode((monitor.account(), monitor.readiness()))


@cache
def live() -> Monitor:
    """Watch the heat as the service does: the clock is let run between the inputs."""
    return watched(lambda from_s, to_s: [from_s + 0.25, from_s + 0.5], close=True)


def watched(
    cuts: Callable[[float, float], list[float]],
    until_s: float = 1e9,
    writer: RecordWriter | None = None,
    *,
    close: bool = False,
) -> Monitor:
    """Watch the heat, or its beginning, with the clock let run to some moments between the inputs."""
    monitor = Monitor(schedule())
    for item in heat():
        if item.time_s > until_s:
            break
        if monitor.time_s is not None and item.time_s > monitor.time_s:
            for time_s in cuts(monitor.time_s, item.time_s):
                if time_s < item.time_s:
                    monitor.advance(time_s)
        if writer is not None:
            writer.write(item)
        events = monitor.feed(item)
        if writer is not None:
            writer.write_events(events)
    if close:
        monitor.close()
    return monitor


def none(from_s: float, to_s: float) -> list[float]:
    """Cut nowhere: every input is one call."""
    return []


def header() -> Header:
    return Header(format=FORMAT, started=STARTED.isoformat(), schedule=TABLE, boot=BOOT, zero_s=ZERO_S)


def killed(path: Path, at_s: float) -> Monitor:
    """Watch into `path` and break off at a time as a killed process does; gives the monitor as it stood."""
    writer = RecordWriter.create(path, header())
    monitor = watched(none, at_s, writer)
    writer.flush()
    writer.close()
    return monitor


def better(account: PotAccount, than: PotAccount) -> list[ClaimName]:
    """Give the claims of an account that are better than those of another: more help, or harm ruled out."""
    helps = [name for name in HELPFUL if HELP_RANK[account.claim(name).shown] > HELP_RANK[than.claim(name).shown]]
    harms = [
        name
        for name in HARMFUL
        if account.claim(name).shown is ClaimShown.NOT_SHOWN and than.claim(name).shown is not ClaimShown.NOT_SHOWN
    ]
    return helps + harms


class TestTheSameHeat:
    def test_has_something_of_everything_in_its_account(self) -> None:
        """Else its being the same everywhere would show little."""
        account = live().account()
        shown = {claim.name: claim.shown for claim in account.claims}
        assert shown[ClaimName.FIRED] is ClaimShown.SHOWN
        assert shown[ClaimName.SOAKED] is ClaimShown.SHOWN
        assert shown[ClaimName.COOLING_SEEN] is ClaimShown.SHOWN
        assert shown[ClaimName.CLIMBED_TOO_FAST] is ClaimShown.SHOWN
        assert shown[ClaimName.UNWATCHED] is ClaimShown.SHOWN
        evidence = account.claim(ClaimName.UNWATCHED).evidence
        assert evidence is not None
        assert evidence.doubted_s > 250.0
        assert evidence.unseen_s > 75.0

    def test_has_the_same_account_in_the_replay_of_its_record(self, tmp_path: Path) -> None:
        """The report reads the record, the page asked the watch: they must not differ."""
        path = tmp_path / "heat.jsonl"
        writer = RecordWriter.create(path, header())
        before = watched(none, writer=writer)
        writer.write(End(before.time_s or 0.0))
        writer.close()
        with RecordReader(path) as reader:
            again = Monitor(schedule())
            for _ in Replay(again).events(reader):
                pass
        assert said(again) == said(live())

    @pytest.mark.parametrize("seed", SEEDS)
    def test_has_the_same_account_however_its_inputs_are_cut_into_calls(self, seed: int) -> None:
        """A slow host lets the clock run at other moments than a quick one, and asks at other moments."""
        dice = random.Random(f"cuts {seed}")

        def cuts(from_s: float, to_s: float) -> list[float]:
            return sorted(dice.uniform(from_s, to_s) for _ in range(dice.randrange(3)))

        assert said(watched(cuts, close=True)) == said(live())


class TestAKilledWatch:
    @pytest.mark.parametrize("seed", SEEDS)
    def test_comes_back_with_the_account_it_had(self, seed: int, tmp_path: Path) -> None:
        """What the heat has shown of its pot lives in the record alone."""
        at_s = random.Random(f"kill {seed}").uniform(60.0, 5300.0)
        before = killed(tmp_path / "heat.jsonl", at_s)
        taken = take_up(tmp_path / "heat.jsonl", lambda: Moment(BOOT, ZERO_S + at_s, STARTED))
        assert said(taken.monitor) == said(before)

    @pytest.mark.parametrize("seed", SEEDS)
    def test_that_was_blind_for_a_while_never_judges_the_pot_better_than_one_that_saw_the_whole(
        self, seed: int, tmp_path: Path
    ) -> None:
        """Blind for seconds up to an hour: what happened meanwhile is not forgiven, and earns nothing."""
        dice = random.Random(f"blind {seed}")
        at_s, blind_s = dice.uniform(60.0, 5000.0), 10.0 ** dice.uniform(0.5, 3.5)
        killed(tmp_path / "heat.jsonl", at_s)
        taken = take_up(tmp_path / "heat.jsonl", lambda: Moment(BOOT, ZERO_S + at_s + blind_s, STARTED))
        monitor = taken.monitor
        monitor.feed(Notice(taken.now_s, NoticeName.WATCH_RESUMED, taken.sentence))
        for item in heat():
            if item.time_s > taken.now_s:
                monitor.feed(item)
        monitor.advance(heat()[-1].time_s)
        monitor.close()
        assert better(monitor.account(), live().account()) == []
        assert ORDER.index(monitor.readiness().ready) <= ORDER.index(live().readiness().ready)


OVEN = parse_schedule({"title": "A drying", "heat": "first", "segment": TABLE["segment"][:2]}, "test")


class TestAReadingThatFreezesBehindACoarseBoard:
    def test_has_its_soak_taken_back_to_the_beginning_of_its_stillness_and_that_is_said(self) -> None:
        """It scattered by steps; then it stands at 166 °C, and 0.02 °C of noise never leave a step of 0.25 °C.

        A quiet oven looks the same at first, so the time counts provisionally, until the stillness is no chance.
        """
        monitor, events, froze_s = Monitor(OVEN), list[Event](), 300
        readings = frozen_after(froze_s)
        for _ in range(froze_s):
            monitor.feed(next(readings))
        soaked_s = monitor.soaked_s
        for _ in range(1500):
            events += monitor.feed(next(readings))
        taken_back = [each for each in events if each.event is EventName.OBSERVED and "are taken back" in each.text]
        assert len(taken_back) == 1
        assert taken_back[0].segment == "drying"
        assert not any(each.event is EventName.SOAK_COMPLETE for each in events)
        assert abs(monitor.soaked_s - soaked_s) <= 2.0
        assert monitor.status().unconfirmed_s == 0.0
        dried, unwatched = (monitor.account().claim(name).evidence for name in (ClaimName.DRIED, ClaimName.UNWATCHED))
        assert dried is not None
        assert 0.0 < dried.believed_s <= froze_s
        assert unwatched is not None
        assert unwatched.doubted_s >= 1490.0

    def test_that_never_scattered_runs_the_schedule_on_and_shows_nothing_of_the_pot(self) -> None:
        """Nobody can tell it from a quiet oven: the soak runs its time, not confirmed, and dries nothing."""
        monitor, readings, events = Monitor(OVEN), frozen_after(0), list[Event]()
        for _ in range(1000):
            events += monitor.feed(next(readings))
        assert [each.text for each in events if each.event is EventName.SOAK_COMPLETE] == [
            "drying · soaked for 15 min in its band, 15 min of it not confirmed"
        ]
        claim = monitor.account().claim(ClaimName.DRIED)
        assert claim.evidence is not None
        assert claim.evidence.unconfirmed_s > 850.0
        assert claim.evidence.measure == 0.0
        assert claim.shown is ClaimShown.NOT_SHOWN


def frozen_after(froze_s: int) -> Iterator[Reading]:
    """Give readings of 166 °C in steps of 0.25 °C: with 0.3 °C of noise up to a time (s), with 0.02 °C from then on."""
    dice, second = random.Random("frozen at 166"), 0
    while True:
        second += 1
        noise_c = 0.3 if second <= froze_s else 0.02
        yield Reading(float(second), temp_c=round(4.0 * (166.0 + dice.gauss(0.0, noise_c))) / 4.0)
