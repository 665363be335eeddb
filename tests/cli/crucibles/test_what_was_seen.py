"""Only what was truly seen counts, through the whole product: record in; alarms, report and register's words out.

Each heat here once made a pot dry, fired or ready that was not, or blamed it for what was not so.
"""

import json
import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain
from pathlib import Path

import pytest

from command_line import CommandLine
from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import AlarmState, Event, EventName, Measurement, Notice, NoticeName, Quality, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.pot import ClaimDoubt, ClaimName, ClaimShown, PotAccount
from rampwarden.records.figures import HeatFigures
from rampwarden.records.heat_figures import figures_of
from rampwarden.records.record_lines import FORMAT, End, Header, Line, encode_line
from rampwarden.records.record_reader import RecordReader
from rampwarden.records.replay import Replay
from wet_pot import climbing_oven, wet_pot_c
from wet_pot import readings as read_by_a_board

pytestmark = pytest.mark.long


Segment = dict[str, object]
Course = Callable[[float], float]

DRYING: Segment = {"name": "drying", "kind": "ramp", "to": "166 C", "max_rate": "25 C / 15 min", "min_rate": "40 C / h"}
DRY_SOAK: Segment = {"name": "dry soak", "kind": "soak", "at": "166 C", "band": ["-15 C", "+15 C"], "hold": "30 min"}
UP: Segment = {"name": "up", "kind": "ramp", "to": "1000 C", "max_rate": "60 C / 2 min"}
SOAK: Segment = {
    "name": "hold",
    "kind": "soak",
    "at": "1000 C",
    "band": ["-25 C", "+25 C"],
    "hold": "30 min",
    "ceiling": "1040 C",
}
COOL: Segment = {"name": "closed furnace", "kind": "cool", "to": "200 C", "max_rate": "150 C / 10 min"}
OLD_WORDS = ("Dried and fired", "later-heat schedule will do", "For nothing before", "Ready for a later heat")


@dataclass
class Told:
    """Everything the product says of one heat."""

    figures: HeatFigures
    account: PotAccount
    events: list[Event]
    monitor: Monitor
    report: str
    register: str
    ready: str

    def shown(self, name: ClaimName) -> ClaimShown:
        return self.account.claim(name).shown

    def raised(self, alarm: str) -> list[float]:
        return [e.time_s for e in self.events if e.alarm == alarm and e.state is AlarmState.UNACKNOWLEDGED]

    def most_orders_at_once(self, since_s: float) -> int:
        """Give how many alarms stood at the same moment, at most, that were not put to rest; from a time on."""
        standing: set[str] = set()
        most = 0
        for event in self.events:
            if event.event is EventName.ALARM and event.alarm is not None:
                active = event.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED)
                (standing.add if active else standing.discard)(event.alarm)
            if event.time_s >= since_s:
                most = max(most, len(standing))
        return most


@dataclass
class Product:
    """Register with A3, a new clay-graphite pot, and whatever is said of a heat of it."""

    rampwarden: CommandLine
    folder: Path

    def tell(self, lines: Iterator[Line], *segments: Segment, ended: bool = True) -> Told:
        """Write a record, and have it replayed, reported and entered."""
        table = {"title": "A first heat", "crucible_class": "clay-graphite", "heat": "first", "segment": list(segments)}
        header = Header(format=FORMAT, started="2026-01-10T09:00:00Z", id="a-heat", crucible="A3", schedule=table)
        written = list(lines)
        end = [End(written[-1].time_s + 1.0, "stopped")] if ended else []
        path = self.folder / "a-heat.jsonl"
        path.write_bytes(b"".join(encode_line(line, seq) for seq, line in enumerate([header, *written, *end])))
        monitor = Monitor(parse_schedule(table, "test"))
        with RecordReader(path) as reader:
            events = list(Replay(monitor).events(reader))
        figures = figures_of(path)
        assert figures.account is not None
        assert self.rampwarden("report", path, "--output", "a-heat.html").status == 0
        report = (self.folder / "a-heat.html").read_text(encoding="utf-8")
        assert self.rampwarden("crucible", "enter", path).status == 0
        [pot] = json.loads(self.rampwarden("crucible", "list", "--json").output)["crucibles"]
        shown = self.rampwarden("crucible", "show", "A3").output
        told = Told(figures, figures.account, events, monitor, report, shown, pot["readiness"]["ready"])
        assert pot["readiness"]["sentence"] in " ".join(shown.split())
        assert pot["readiness"]["sentence"] in report
        return told


@pytest.fixture
def product(rampwarden: CommandLine, tmp_path: Path) -> Product:
    rampwarden("crucible", "add", "A3", "--class", "clay-graphite", "--wall-mm", "20")
    return Product(rampwarden, tmp_path)


def read(
    course: Course, from_s: float, to_s: float, noise_c: float = 0.3, step_c: float = 0.25, every_s: float = 4.0
) -> Iterator[Reading]:
    """Read a course through a board of such a step."""
    dice = random.Random(f"{from_s} {to_s}")
    time_s = from_s
    while time_s < to_s:
        yield Reading(time_s, temp_c=round((course(time_s) + dice.gauss(0.0, noise_c)) / step_c) * step_c)
        time_s += every_s


def line(from_s: float, from_c: float, to_s: float, to_c: float) -> Course:
    return lambda time_s: from_c + (to_c - from_c) * min(max((time_s - from_s) / (to_s - from_s), 0.0), 1.0)


UP_S = 6600.0
to_166 = line(0.0, 20.0, UP_S, 166.0)


def frozen(at_c: float, from_s: float, to_s: float) -> Iterator[Reading]:
    """A board of quarter degrees that hangs, with two hundredths of noise too little to move it."""
    return read(lambda _: at_c, from_s, to_s, noise_c=0.02)


class TestAValueFrozenInTheDryingBand:
    """In 0.25 °C steps with 0.02 °C of noise: it earned the soak, and made a pot dry and fired."""

    @pytest.mark.parametrize(("noise_c", "ready"), [(0.02, "dry-it-first"), (0.3, "inspect-first")])
    def test_earns_no_drying_and_the_pot_is_not_ready(self, product: Product, noise_c: float, ready: str) -> None:
        """Whether the board's step can explain it (never confirmed) or not (taken back, and unknown)."""
        told = product.tell(
            chain(read(to_166, 0.0, UP_S, noise_c), frozen(166.0, UP_S, UP_S + 5400.0)), DRYING, DRY_SOAK
        )
        dried = told.account.claim(ClaimName.DRIED)
        assert dried.shown is not ClaimShown.SHOWN
        if dried.shown is ClaimShown.IN_DOUBT:
            assert ClaimDoubt.UNCONFIRMED in dried.doubts
        assert dried.evidence is not None
        assert (dried.evidence.measure or 0.0) < 0.5
        assert told.ready == ready
        assert not any(old in told.report + told.register for old in OLD_WORDS)
        said = " ".join(event.text for event in told.events)
        assert ("not confirmed" in said) if noise_c == 0.02 else ("are taken back" in said)

    def test_gives_one_order_at_a_time(self, product: Product) -> None:
        """It does not climb, which the least rate would have it do: that is no reason to raise the heat."""
        froze_s = 4000.0
        told = product.tell(
            chain(read(to_166, 0.0, froze_s), frozen(round(to_166(froze_s) * 4) / 4, froze_s, froze_s + 7200.0)),
            DRYING,
            DRY_SOAK,
        )
        [stuck_s] = told.raised("sensor-stuck")
        assert froze_s < stuck_s < froze_s + 300.0
        assert told.most_orders_at_once(froze_s) == 1
        assert told.raised("ramp-low") == []


class TestASoakAtWorkingTemperature:
    @pytest.mark.parametrize(("noise_c", "shown"), [(0.02, ClaimShown.IN_DOUBT), (0.8, ClaimShown.NOT_SHOWN)])
    def test_that_a_frozen_value_ran_is_not_shown(self, product: Product, noise_c: float, shown: ClaimShown) -> None:
        """Where the step can explain it the schedule may go on; the claim stays in doubt and the first heat open."""
        hot_s = 3000.0
        told = product.tell(
            chain(
                read(line(0.0, 20.0, hot_s, 1000.0), 0.0, hot_s, noise_c), frozen(1000.0, hot_s, hot_s + 3000.0)
            ),
            UP,
            SOAK,
        )  # fmt: skip
        assert told.shown(ClaimName.SOAKED) is shown
        assert (told.figures.soaked_s < 120.0) == (told.account.claim(ClaimName.SOAKED).evidence is not None)
        assert told.ready != "ready-for-a-later-heat"


class TestFourSparks:
    """Of 703 °C in a heat that never passed 180 °C: they made a pot fired."""

    AT_S = 7000.0

    def lines(self) -> list[Reading]:
        course = list(read(lambda time_s: min(to_166(time_s), 180.0), 0.0, 10_000.0))
        at = next(number for number, reading in enumerate(course) if reading.time_s >= self.AT_S)
        for number in range(at, at + 4):
            course[number] = Reading(course[number].time_s, temp_c=703.0)
        return course

    def test_truly_pass_the_outlier_gate(self) -> None:
        """Or else this would show nothing: the gate follows a step within a few readings."""
        monitor = Monitor(parse_schedule({"title": "sparks", "segment": [DRYING, DRY_SOAK]}, "test"))
        passed: list[Measurement] = []
        for reading in self.lines():
            monitor.feed(reading)
            last = monitor.measurement
            if last is not None and last.quality is Quality.GOOD and (last.temp_c or 0.0) > 650.0:
                passed.append(last)
        assert passed
        assert monitor.highest_c == pytest.approx(703.0)

    def test_fire_no_pot_whatever_the_peak(self, product: Product) -> None:
        told = product.tell(iter(self.lines()), DRYING, DRY_SOAK)
        assert told.figures.peak_c == pytest.approx(703.0)
        assert told.shown(ClaimName.FIRED) is ClaimShown.NOT_SHOWN
        assert told.ready != "ready-for-a-later-heat"
        assert not any(old in told.report + told.register for old in OLD_WORDS)


class TestAClimbAcrossABlindTime:
    """Ten minutes blind and 60 °C more while drying: a crash forgave what a gap did not."""

    @staticmethod
    def blind(*, resumed: bool) -> Iterator[Line]:
        yield from read(line(0.0, 20.0, 2700.0, 80.0), 0.0, 2700.0)
        if resumed:
            yield Notice(3300.0, NoticeName.WATCH_RESUMED, "taken up again, blind for 10 min")
        yield from read(line(3300.0, 140.0, 5400.0, 166.0), 3300.0, 9000.0)

    @pytest.mark.parametrize("resumed", [False, True])
    def test_rings_is_told_and_is_never_forgiven(self, product: Product, resumed: bool) -> None:
        """The levels around it prove the climb, whoever was blind and why."""
        told = product.tell(self.blind(resumed=resumed), DRYING, DRY_SOAK)
        assert len([time_s for time_s in told.raised("ramp-high") if 3300.0 <= time_s < 3600.0]) == 1
        assert told.shown(ClaimName.CLIMBED_WHILE_WET) is ClaimShown.SHOWN
        assert told.ready == "inspect-first"
        assert "Climbed too fast while wet" in told.report
        assert not any(old in told.report + told.register for old in OLD_WORDS)

    def test_that_proves_nothing_is_unwatched(self, product: Product) -> None:
        """The same level before and after: nobody knows what was between."""
        told = product.tell(
            chain(read(to_166, 0.0, 3600.0), read(line(5400.0, 100.0, 8400.0, 166.0), 5400.0, 10_800.0)),
            DRYING,
            DRY_SOAK,
        )
        assert told.raised("ramp-high") == []
        assert told.shown(ClaimName.CLIMBED_WHILE_WET) is ClaimShown.IN_DOUBT
        assert told.shown(ClaimName.UNWATCHED) is ClaimShown.SHOWN
        assert told.ready == "inspect-first"


class TestAnOverheatedPot:
    def test_is_looked_at_first_and_nothing_beside_it_says_otherwise(self, product: Product) -> None:
        """A whole first heat, and eight minutes above its ceiling."""

        def course(time_s: float) -> float:
            if time_s < 9000.0:
                return to_166(time_s) + (14.0 if time_s > UP_S + 600.0 else 0.0)
            if time_s < 12_000.0:
                return line(9000.0, 180.0, 11_400.0, 1000.0)(time_s)
            if time_s < 13_000.0:
                return 1000.0 + 64.0 * min(1.0, (time_s - 12_000.0) / 200.0, (13_000.0 - time_s) / 200.0)
            return line(15_000.0, 1000.0, 21_600.0, 40.0)(time_s)

        told = product.tell(read(course, 0.0, 22_000.0), DRYING, DRY_SOAK, UP, SOAK, COOL)
        assert told.shown(ClaimName.SOAKED) is ClaimShown.SHOWN
        assert told.shown(ClaimName.OVERHEATED) is ClaimShown.SHOWN
        assert told.ready == "inspect-first"
        assert told.report.count("Inspect it first") == 2  # for the next shift, and as the finding
        assert not any(old in told.report + told.register for old in OLD_WORDS)


class TestASegmentThatGoesTheOtherWay:
    HOT_S = 3000.0

    def soaked(self, after: Course, to_s: float) -> Iterator[Reading]:
        """Up to 1000 °C, half an hour there, and what comes then."""
        up = line(0.0, 20.0, self.HOT_S, 1000.0)
        return read(lambda time_s: up(time_s) if time_s < self.HOT_S + 1900.0 else after(time_s), 0.0, to_s, 0.6)

    def test_gas_left_on_after_the_soak_is_told_and_rings_at_the_ceiling(self, product: Product) -> None:
        """1000 to 1060 °C in three quarters of an hour: it went by without an alarm."""
        began_s = self.HOT_S + 1900.0
        told = product.tell(
            self.soaked(line(began_s, 1000.0, began_s + 2700.0, 1060.0), began_s + 2800.0), UP, SOAK, COOL
        )
        [told_s] = told.raised("not-cooling")
        assert told_s < began_s + 1200.0
        assert len(told.raised("temperature-high")) == 1
        assert told.shown(ClaimName.OVERHEATED) is ClaimShown.SHOWN
        assert "Cooling not seen" in told.report

    def test_a_heat_whose_last_line_is_ticked_is_watched_until_it_is_cold(self, product: Product) -> None:
        """A schedule that ends with its soak; the record is closed at 300 °C, and the account says so."""
        began_s = self.HOT_S + 1900.0
        down = line(began_s, 1000.0, began_s + 6000.0, 150.0)
        told = product.tell(self.soaked(down, began_s + 5000.0), UP, SOAK)
        [done] = [event for event in told.events if event.event is EventName.SCHEDULE_DONE]
        assert "cooling, still watched until below 60 °C" in done.text
        assert not told.monitor.complete
        assert "the account was closed before the pot was cold: cooling not seen" in told.report
        assert told.ready == "inspect-first"

    def test_a_closed_furnace_for_ninety_minutes_can_be_asked_for(self, product: Product) -> None:
        """Cold after an hour is not over: the time is asked for too."""
        began_s = self.HOT_S + 1900.0
        down = line(began_s, 1000.0, began_s + 3600.0, 190.0)
        closed: Segment = {"name": "closed furnace", "kind": "cool", "to": "200 C", "hold": "90 min"}
        told = product.tell(self.soaked(down, began_s + 6000.0), UP, SOAK, closed)
        [over] = [e.time_s for e in told.events if e.event in (EventName.SCHEDULE_DONE, EventName.HEAT_COMPLETE)][:1]
        [began] = [e.time_s for e in told.events if e.event is EventName.SEGMENT_STARTED and e.segment_number == 3]
        assert over - began == pytest.approx(5400.0, abs=10.0)

    def test_an_oven_that_trips_in_a_ramp_is_told(self, product: Product) -> None:
        """At 144 °C: six hours of cooling went by without a word."""
        trips_s = 5600.0
        down = partial(_newton, trips_s, to_166(trips_s))
        told = product.tell(
            read(lambda time_s: to_166(time_s) if time_s < trips_s else down(time_s), 0.0, trips_s + 7200.0),
            {**DRYING, "min_rate": "1 C / h"},
            DRY_SOAK,
        )
        [told_s] = told.raised("not-heating")
        assert trips_s < told_s < trips_s + 480.0
        assert told.ready == "dry-it-first"


class TestAWetPotThatRunsAfterItsOven:
    def test_is_told_to_be_too_fast_and_not_blamed_for_steam_as_shown(self, product: Product) -> None:
        """A quarter litre in 5 kg: it stands at 100 °C, and then climbs 45 °C in a quarter of an hour."""
        course = wet_pot_c(250.0, climbing_oven(90.0), 9000)
        told = product.tell(read_by_a_board(course), {**DRYING, "to": "180 C"}, {**DRY_SOAK, "at": "180 C"})
        assert len(told.raised("ramp-high")) >= 1, "the limit is broken, and that is a fact"
        assert told.shown(ClaimName.CLIMBED_TOO_FAST) is ClaimShown.SHOWN
        wet = told.account.claim(ClaimName.CLIMBED_WHILE_WET)
        assert (wet.shown, wet.doubts[0]) == (ClaimShown.IN_DOUBT, ClaimDoubt.WATER_LEFT)
        assert "its climb had slowed near 100 °C and recovered" in told.report
        assert told.ready == "inspect-first"

    def test_but_a_wet_pot_that_was_driven_there_is(self, product: Product) -> None:
        """The same pot in an oven that climbs twice as fast as the limit from the first."""
        course = wet_pot_c(250.0, climbing_oven(200.0), 6000)
        told = product.tell(read_by_a_board(course), {**DRYING, "to": "180 C"}, {**DRY_SOAK, "at": "180 C"})
        assert told.shown(ClaimName.CLIMBED_WHILE_WET) is ClaimShown.SHOWN
        assert told.ready == "inspect-first"


def _newton(from_s: float, from_c: float, time_s: float) -> float:
    return 22.0 + (from_c - 22.0) * math.exp(-(time_s - from_s) / 5400.0)
