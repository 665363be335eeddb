"""What becomes of a statement: an alarm, a message, a reason beside a fact, or words that take it back."""

import pytest

from rampwarden.core.diagnosis import SENSOR_NOISY, SENSOR_STUCK
from rampwarden.core.explanation import FLAME_OUT, HEAT_FAILING, Cause, Context, Ended, Saying, Statement
from rampwarden.core.heat import HeatTracker, parse_schedule
from rampwarden.core.limits import NOT_HEATING, RAMP_FORECAST, RAMP_HIGH, SOAK_DEVIATION, TEMPERATURE_HIGH
from rampwarden.core.model import Event, EventName, Finding
from rampwarden.core.pot_keeper import SoakClocks
from rampwarden.core.schedule import SegmentKind
from rampwarden.core.watching import explaining
from rampwarden.core.watching.event_list import EventList
from rampwarden.core.watching.explaining import Explaining, context_of
from rampwarden.core.watching.withholding import Withholding

SCHEDULE = parse_schedule(
    {
        "title": "test",
        "segment": [
            {"name": "carry", "kind": "transfer", "within": "20 min"},
            {"name": "up", "kind": "ramp", "to": "700 C", "max_rate": ["60 C / 2 min", "200 C / 10 min"]},
            {"name": "hold", "kind": "soak", "at": "700 C", "band": ["-20 C", "+15 C"], "hold": "15 min"},
        ],
    },
    "test",
)
MESSAGES = {
    Cause.LID_OR_PROBE,
    Cause.CHARGE,
    Cause.PROBE_MOVED,
    Cause.IN_FLAME,
    Cause.CYCLING,
    Cause.HEAT_OFF,
    Cause.LEFT_ON,
    Cause.PLATEAU,
}
ALARMS = {
    Cause.FLAME_OUT: FLAME_OUT,
    Cause.FADING: HEAT_FAILING,
    Cause.SAG: HEAT_FAILING,
    Cause.STUCK: SENSOR_STUCK,
    Cause.INTERFERENCE: SENSOR_NOISY,
}


class Script:
    """Says what a test wants it to say."""

    def __init__(self) -> None:
        self.statement: Statement | None = None
        self.next: Saying | None = None
        self.contexts: list[Context | None] = []
        self.fed: list[tuple[float, bool]] = []
        self.marks: list[str] = []

    def tell(self, cause: Cause, since_s: float = 0.0) -> Statement:
        told = Statement(cause, since_s, since_s + 10.0, 0.9)
        self.next, self.statement = Saying(told=told, withdrawn=self.statement, why=Ended.OVER), told
        return told

    def end(self, why: Ended) -> None:
        self.next, self.statement = Saying(withdrawn=self.statement, why=why), None

    def enter(self, context: Context | None, time_s: float) -> None:
        self.contexts.append(context)

    def resume(self, time_s: float) -> None:
        self.statement = None

    def mark(self, time_s: float, name: str) -> None:
        self.marks.append(name)

    def feed(self, time_s: float, temp_c: float, *, held: bool = False) -> Saying | None:
        self.fed.append((time_s, held))
        said, self.next = self.next, None
        return said

    def withholds_ramp(self, time_s: float) -> bool:
        return False


class Bench:
    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.script = Script()
        monkeypatch.setattr(explaining, "Explanation", lambda: self.script)
        self.events = EventList(SCHEDULE, HeatTracker(SCHEDULE, SoakClocks(15.0)))
        self.odd, self.noisy, self.intermits = True, False, False
        self.withholding = Withholding(self.events, lambda: None)
        self.explaining = Explaining(
            SCHEDULE, self.events, self.withholding, lambda: self.odd, lambda: self.noisy, lambda: self.intermits
        )
        self.time_s = 1000.0

    def feed(self, *, held: bool = False) -> list[Event]:
        self.time_s += 1.0
        self.events.time_s = self.time_s
        self.explaining.feed(self.time_s, 500.0, held=held)
        return self.events.taken()


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(monkeypatch)


def test_every_cause_is_an_alarm_or_a_message_but_an_arrival() -> None:
    assert MESSAGES | set(ALARMS) | {Cause.ARRIVAL} == set(Cause)


@pytest.mark.parametrize("cause", sorted(MESSAGES))
def test_what_needs_no_deed_at_once_is_a_message(bench: Bench, cause: Cause) -> None:
    bench.script.tell(cause)
    (event,) = bench.feed()
    assert event.event is EventName.OBSERVED
    assert event.text.startswith("likely ")
    assert bench.explaining.findings == {}
    assert bench.explaining.standing is not None
    assert (bench.explaining.standing.cause, bench.explaining.standing.alarm) == (cause.value, None)


@pytest.mark.parametrize("cause", sorted(ALARMS))
def test_what_a_person_must_act_on_is_an_alarms_condition_for_as_long_as_it_stands(bench: Bench, cause: Cause) -> None:
    bench.script.tell(cause)
    assert bench.feed() == []
    assert list(bench.explaining.findings) == [ALARMS[cause].name]
    assert bench.explaining.findings[ALARMS[cause].name].what.startswith("likely ")
    bench.script.end(Ended.OVER)
    assert bench.feed() == []
    assert bench.explaining.findings == {}
    assert bench.explaining.standing is None


def test_an_arrival_explains_and_says_nothing(bench: Bench) -> None:
    bench.script.tell(Cause.ARRIVAL)
    assert bench.feed() == []
    assert bench.explaining.standing is None


def test_what_proves_wrong_is_withdrawn_in_words_alarm_or_not(bench: Bench) -> None:
    for cause in (Cause.LID_OR_PROBE, Cause.FLAME_OUT):
        bench.script.tell(cause)
        bench.feed()
        bench.script.end(Ended.WRONG)
        (event,) = bench.feed()
        assert event.text.startswith("withdrawn: it was not the ")
        assert event.event is EventName.OBSERVED


def test_one_in_the_place_of_another_says_nothing_of_the_other(bench: Bench) -> None:
    """A probe that was moved is no lid that is shut again."""
    bench.script.tell(Cause.LID_OR_PROBE)
    bench.feed()
    bench.script.tell(Cause.PROBE_MOVED)
    assert [event.text.partition(",")[0] for event in bench.feed()] == ["likely the probe was moved"]


def test_what_is_over_says_so(bench: Bench) -> None:
    bench.script.tell(Cause.LID_OR_PROBE)
    bench.feed()
    bench.script.end(Ended.OVER)
    assert [event.text.partition(",")[0] for event in bench.feed()] == ["the lid is shut again"]


def test_a_standing_statement_is_the_reason_of_facts_that_it_can_explain(bench: Bench) -> None:
    bench.script.tell(Cause.HEAT_OFF)
    bench.feed()
    found = {
        NOT_HEATING.name: Finding(9.0, None, "°C", "falls"),
        TEMPERATURE_HIGH.name: Finding(9.0, None, "°C", "hot"),
    }
    bench.explaining.add_reason(found)
    assert found[NOT_HEATING.name].what.startswith("falls; likely the heat is off")
    assert found[NOT_HEATING.name].value == 9.0
    assert found[TEMPERATURE_HIGH.name].what == "hot"


@pytest.mark.parametrize("asks", [RAMP_HIGH.name, RAMP_FORECAST.name, TEMPERATURE_HIGH.name, SOAK_DEVIATION.name])
@pytest.mark.parametrize("cause", [Cause.FADING, Cause.SAG])
def test_a_heat_that_was_asked_to_be_lowered_is_not_failing(bench: Bench, asks: str, cause: Cause) -> None:
    """Whoever did what an alarm ordered is not sent to look at the flame for it."""
    bench.feed()
    bench.explaining.add_reason({asks: Finding(30.0, 25.0, "°C", "too much")})
    bench.script.tell(cause, since_s=bench.time_s + 500.0)
    assert bench.feed() == []
    assert (bench.explaining.findings, bench.explaining.standing) == ({}, None)


def test_what_was_not_asked_for_is_told_all_the_same(bench: Bench) -> None:
    """A soak below its band asks for more heat, what was asked long ago is done, and a lost flame nobody asks for."""
    bench.feed()
    bench.explaining.add_reason({SOAK_DEVIATION.name: Finding(20.0, 25.0, "°C", "too little")})
    bench.script.tell(Cause.FADING, since_s=bench.time_s)
    bench.feed()
    assert HEAT_FAILING.name in bench.explaining.findings
    bench.explaining.add_reason({RAMP_HIGH.name: Finding(30.0, 25.0, "°C", "too much")})
    bench.script.tell(Cause.FADING, since_s=bench.time_s + 700.0)
    bench.feed()
    assert HEAT_FAILING.name in bench.explaining.findings
    bench.script.tell(Cause.FLAME_OUT, since_s=bench.time_s)
    bench.feed()
    assert FLAME_OUT.name in bench.explaining.findings


def test_a_stuck_sensor_doubts_the_pot_and_interference_that_the_gate_puts_aside_does_not(bench: Bench) -> None:
    bench.script.tell(Cause.STUCK, since_s=900.0)
    bench.feed()
    assert bench.explaining.says_stuck
    bench.script.tell(Cause.INTERFERENCE, since_s=950.0)
    bench.feed()
    assert not bench.explaining.says_stuck


def test_stillness_that_a_coarse_converter_explains_is_not_called_stuck(bench: Bench) -> None:
    """It needs confirming, which is said elsewhere; once it is odd it is told."""
    bench.odd = False
    bench.script.tell(Cause.STUCK)
    assert bench.feed() == []
    assert (bench.explaining.findings, bench.explaining.standing, bench.explaining.says_stuck) == ({}, None, False)
    bench.odd = True
    assert SENSOR_STUCK.name in bench.explaining.findings


def test_pickup_that_swings_slowly_is_no_heat_that_cycles(bench: Bench) -> None:
    """Neither its beginning nor its end is told; anything else is."""
    bench.noisy = True
    bench.script.tell(Cause.CYCLING)
    assert bench.feed() == []
    assert bench.explaining.standing is None
    bench.script.end(Ended.OVER)
    assert bench.feed() == []
    bench.script.tell(Cause.CHARGE)
    assert len(bench.feed()) == 1


def test_what_leaps_while_a_sensor_works_only_now_and_then_is_no_interference(bench: Bench) -> None:
    """It is said already, and the same readings are no second alarm and no reason, then or afterwards."""
    bench.intermits = True
    bench.script.tell(Cause.INTERFERENCE)
    assert bench.feed() == []
    assert (bench.explaining.findings, bench.explaining.standing) == ({}, None)
    bench.intermits = False
    assert bench.feed() == []
    assert bench.explaining.findings == {}
    bench.script.end(Ended.OVER)
    bench.feed()
    bench.time_s += 10.0
    bench.script.tell(Cause.INTERFERENCE, since_s=bench.time_s)
    bench.feed()
    assert SENSOR_NOISY.name in bench.explaining.findings


def test_readings_held_by_the_gate_are_told_as_such_and_none_twice(bench: Bench) -> None:
    bench.feed(held=True)
    assert bench.explaining.feed(bench.time_s, 500.0, held=False) is False
    assert bench.script.fed == [(1001.0, True)]


def test_fresh_figures_change_the_words_that_stand_without_saying_them_again(bench: Bench) -> None:
    told = bench.script.tell(Cause.CHARGE)
    bench.feed()
    bench.script.statement = Statement(told.cause, told.since_s, told.told_s, 0.99)
    assert bench.feed() == []
    assert bench.explaining.standing is not None
    assert bench.explaining.standing.text.startswith("almost certainly cold metal")


def test_only_a_lid_leaves_the_probes_lag_to_be_seen(bench: Bench) -> None:
    bench.script.tell(Cause.LID_OR_PROBE)
    bench.feed()
    assert bench.explaining.otherwise_s < 0.0
    assert bench.explaining.lid_s == 0.0
    bench.script.tell(Cause.CHARGE)
    bench.feed()
    assert bench.explaining.otherwise_s < 0.0
    bench.script.tell(Cause.PROBE_MOVED)
    bench.feed()
    assert bench.explaining.otherwise_s == bench.time_s


def test_marks_are_understood_however_they_are_written(bench: Bench) -> None:
    bench.explaining.mark(5.0, " Lid_OPEN ")
    assert bench.script.marks == ["lid-open"]


def test_the_end_of_the_schedule_and_a_blind_time_end_what_is_said_without_a_word(bench: Bench) -> None:
    bench.script.tell(Cause.FLAME_OUT)
    bench.feed()
    bench.explaining.resume(bench.time_s)
    assert bench.explaining.findings == {}
    bench.script.tell(Cause.FLAME_OUT)
    bench.feed()
    bench.explaining.enter(None, bench.time_s)
    assert (bench.explaining.findings, bench.explaining.standing, bench.events.taken()) == ({}, None, [])


def test_a_segment_is_told_with_its_target_band_tightest_limit_and_what_it_follows() -> None:
    carry, up, hold = (context_of(SCHEDULE, index) for index in range(3))
    assert (carry.kind, carry.limit, carry.target_c) == (SegmentKind.TRANSFER, None, None)
    assert up.after_transfer
    assert not hold.after_transfer
    assert up.target_c == 680.0
    assert up.limit is not None
    assert (up.limit.climb_c, up.limit.window_s) == (200.0, 600.0)
    assert (hold.target_c, hold.lowest_c, hold.highest_c) == (700.0, 680.0, 715.0)


def test_a_message_that_a_person_calls_wrong_is_shown_no_more_until_it_stands_after_all(bench: Bench) -> None:
    """And its end is nobody's news."""
    bench.script.tell(Cause.CHARGE)
    (event,) = bench.feed()
    bench.explaining.answer("", "another message", wrong=True)
    assert bench.explaining.standing is not None
    bench.explaining.answer("", event.text, wrong=True)
    assert bench.explaining.standing is None
    bench.explaining.answer("", event.text, wrong=False)
    assert bench.explaining.standing is not None
    bench.explaining.answer("", event.text, wrong=True)
    bench.script.end(Ended.WRONG)
    assert bench.feed() == []


def test_an_alarm_that_a_person_calls_wrong_is_no_reason_of_facts_and_still_found(bench: Bench) -> None:
    """The desk must know when its condition has been gone once."""
    bench.script.tell(Cause.FLAME_OUT)
    bench.feed()
    bench.explaining.answer(HEAT_FAILING.name, "", wrong=True)
    assert bench.explaining.standing is not None
    bench.explaining.answer(FLAME_OUT.name, "", wrong=True)
    assert bench.explaining.standing is None
    found = {NOT_HEATING.name: Finding(1.0, 2.0, "°C", "falls")}
    bench.explaining.add_reason(found)
    assert found[NOT_HEATING.name].what == "falls"
    assert FLAME_OUT.name in bench.explaining.findings
    bench.explaining.answer(FLAME_OUT.name, "", wrong=False)
    assert bench.explaining.standing is not None


def test_an_answer_to_an_earlier_message_leaves_the_alarm_that_stands_now(bench: Bench) -> None:
    bench.script.tell(Cause.CHARGE)
    (event, *_) = bench.feed()
    bench.script.tell(Cause.FLAME_OUT)
    bench.feed()
    bench.explaining.answer("", event.text, wrong=True)
    assert bench.explaining.standing is not None
