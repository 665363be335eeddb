"""What a schedule that can be watched leaves open: said segment by segment, and silent where nothing is."""

from rampwarden.core.heat import ScheduleDoubt, schedule_doubts
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

QUARTER = (Rate(25.0, 900.0),)
RAMP = Segment("up", SegmentKind.RAMP, to_c=1000.0, max_rates=QUARTER)
SOAK = Segment("hold", SegmentKind.SOAK, at_c=1000.0, hold_s=600.0, ceiling_c=1050.0)
COOL = Segment("down", SegmentKind.COOL, to_c=100.0, max_rates=QUARTER)
TYPE_K = ("K", (-270.0, 1372.0))


def doubts(*segments: Segment) -> tuple[ScheduleDoubt, ...]:
    return schedule_doubts(Schedule("t", segments), *TYPE_K)


def words(*segments: Segment) -> list[str]:
    return [doubt.words for doubt in doubts(*segments)]


def test_nothing_is_doubted_where_everything_is_limited() -> None:
    """The soak keeps the limit of the ramp before it, and a transfer needs none."""
    assert doubts(RAMP, SOAK, COOL) == ()
    assert doubts(RAMP, Segment("carry", SegmentKind.TRANSFER, within_s=600.0, arrive_above_c=100.0)) == ()


def test_what_the_thermocouple_cannot_read_is_impossible() -> None:
    """Wherever it stands, on both sides of its range."""
    too_hot = Segment("up", SegmentKind.RAMP, to_c=2000.0, max_rates=QUARTER, ceiling_c=2100.0)
    assert doubts(too_hot) == (
        ScheduleDoubt(0, "to = 2000 °C, but a type K thermocouple ends at 1372 °C", impossible=True),
        ScheduleDoubt(0, "ceiling = 2100 °C, but a type K thermocouple ends at 1372 °C", impossible=True),
    )
    soak = Segment("hold", SegmentKind.SOAK, at_c=1400.0, hold_s=60.0, ceiling_c=1372.0)
    assert doubts(RAMP, soak)[0].words == "at = 1400 °C, but a type K thermocouple ends at 1372 °C"
    assert not any(doubt.impossible for doubt in doubts(Segment("up", SegmentKind.RAMP, to_c=1372.0)))
    cold = schedule_doubts(Schedule("t", (COOL,)), "B", (250.0, 1820.0))
    assert cold == (ScheduleDoubt(0, "to = 100 °C, but a type B thermocouple begins at 250 °C", impossible=True),)


def test_limits_that_nobody_set_are_said_with_an_example() -> None:
    """A ramp, a cooling, a soak without a ceiling, and one that nothing leads to."""
    ramp = Segment("up", SegmentKind.RAMP, to_c=1000.0, min_rate=Rate(10.0, 60.0))
    assert words(ramp) == ['nothing limits how fast it climbs; set max_rate, as in max_rate = "25 C / 15 min"']
    cool = Segment("down", SegmentKind.COOL, to_c=100.0)
    assert words(RAMP, cool) == ['nothing limits how fast it cools; set max_rate, as in max_rate = "100 C / 10 min"']
    soak = Segment("hold", SegmentKind.SOAK, at_c=1000.0, hold_s=600.0)
    assert words(RAMP, soak) == [
        'it has no ceiling, so no alarm of high priority if it runs away; set one, as in ceiling = "1035 C"'
    ]
    assert words(SOAK) == ["nothing limits the climb to it: no max_rate of its own, and no ramp before it"]


def test_a_long_window_and_a_name_nobody_can_type_are_pointed_at() -> None:
    """Each once, for the segment it belongs to."""
    loose = Segment("up\tslowly", SegmentKind.RAMP, to_c=500.0, max_rates=(Rate(100.0, 3600.0), Rate(25.0, 1800.0)))
    assert doubts(RAMP, loose)[-2:] == (
        ScheduleDoubt(1, "100 °C may pass at once inside 1 h; '25 C / 15 min' holds the same slope closer"),
        ScheduleDoubt(1, "its name 'up\\tslowly' holds a tab; use blanks"),
    )
