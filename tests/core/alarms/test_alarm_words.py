"""What the watch says: the words that matter first, and what to do."""

import pytest

from rampwarden.core.alarms.alarm_words import alarm_text, segment_text
from rampwarden.core.alarms.desk import AlarmChange, AlarmInput
from rampwarden.core.catalogue import CATALOGUE
from rampwarden.core.model import AlarmState, Finding, Priority
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import Schedule, Segment, SegmentKind

ENTRY = CATALOGUE["ramp-high"]


def change(happening: AlarmInput, state: AlarmState, what: str = "36 °C within 15 min, limit 25") -> AlarmChange:
    finding = Finding(142.0, 100.0, "°C/h", what)
    return AlarmChange(100.0, "ramp-high", happening, state, Priority.HIGH, finding, lasted_s=95.0)


@pytest.mark.parametrize(
    ("happening", "state", "text"),
    [
        (
            AlarmInput.APPEAR,
            AlarmState.UNACKNOWLEDGED,
            "ramp-high · 36 °C within 15 min, limit 25 · drying · lower the heat or open the lid",
        ),
        (AlarmInput.ACKNOWLEDGE, AlarmState.ACKNOWLEDGED, "ramp-high · acknowledged, still present · drying"),
        (AlarmInput.ACKNOWLEDGE, AlarmState.NORMAL, "ramp-high · acknowledged, back to normal · drying"),
        (
            AlarmInput.CLEAR,
            AlarmState.RETURNED_UNACKNOWLEDGED,
            "ramp-high · back to normal after 1 min 35 s, not yet acknowledged · drying",
        ),
        (AlarmInput.CLEAR, AlarmState.NORMAL, "ramp-high · back to normal after 1 min 35 s · drying"),
        (AlarmInput.SHELVE, AlarmState.SHELVED, "ramp-high · shelved · drying"),
        (AlarmInput.UNSHELVE, AlarmState.NORMAL, "ramp-high · no longer shelved · drying"),
        (AlarmInput.SUPPRESS, AlarmState.SUPPRESSED, "ramp-high · suppressed by design in this segment · drying"),
        (AlarmInput.UNSUPPRESS, AlarmState.NORMAL, "ramp-high · no longer suppressed · drying"),
        (AlarmInput.REMOVE_FROM_SERVICE, AlarmState.OUT_OF_SERVICE, "ramp-high · out of service · drying"),
        (AlarmInput.RETURN_TO_SERVICE, AlarmState.NORMAL, "ramp-high · in service again · drying"),
    ],
)
def test_an_alarm_says_name_fact_segment_and_when_raised_what_to_do(
    happening: AlarmInput, state: AlarmState, text: str
) -> None:
    """And what is only set aside or taken up again is never called back to normal."""
    assert alarm_text(change(happening, state), ENTRY, "drying") == text


def test_an_alarm_outside_any_segment_leaves_no_hole() -> None:
    """Before the first temperature and after the end; nor does a fact nobody found words for."""
    raised = change(AlarmInput.APPEAR, AlarmState.UNACKNOWLEDGED)
    assert alarm_text(raised, ENTRY, None) == (
        "ramp-high · 36 °C within 15 min, limit 25 · lower the heat or open the lid"
    )
    wordless = change(AlarmInput.APPEAR, AlarmState.UNACKNOWLEDGED, what="")
    assert alarm_text(wordless, ENTRY, "drying") == "ramp-high · drying · lower the heat or open the lid"


PLAN = Schedule(
    "test",
    (
        Segment("drying", SegmentKind.RAMP, to_c=200.0, max_rates=(Rate(25.0, 900.0), Rate(6.0, 60.0))),
        Segment("dry soak", SegmentKind.SOAK, at_c=200.0, band_c=(-15.0, 20.0), hold_s=5400.0),
        Segment("oven to furnace", SegmentKind.TRANSFER, within_s=1200.0, say="Tongs, gloves."),
        Segment("carry on", SegmentKind.TRANSFER),
        Segment("red heat", SegmentKind.RAMP, to_c=650.0, min_rate=Rate(12.5, 300.0), say="Lid open."),
        Segment("closed furnace", SegmentKind.COOL, to_c=60.0, max_rates=(Rate(10.0, 60.0),)),
    ),
)


@pytest.mark.parametrize(
    ("index", "text"),
    [
        (0, "drying · heat to 200 °C · at most 25 °C in 15 min and 6 °C in 1 min"),
        (1, "dry soak · hold 185 to 220 °C for 1 h 30 min · at most 25 °C in 15 min and 6 °C in 1 min"),
        (
            2,
            "oven to furnace · carry the pot over within 20 min; ramp alarms rest until it has arrived"
            " · Tongs, gloves.",
        ),
        (3, "carry on · carry the pot over; ramp alarms rest until it has arrived"),
        (4, "red heat · heat to 650 °C · at least 12.5 °C in 5 min · Lid open."),
        (5, "closed furnace · cool to 60 °C · at most 10 °C in 1 min"),
    ],
)
def test_a_segment_says_where_it_leads_what_is_allowed_and_the_schedules_own_word(index: int, text: str) -> None:
    """The limits are those in force, so a soak names the ones it keeps from its ramp."""
    assert segment_text(PLAN, index) == text


def test_an_alarm_that_rests_because_of_the_sensor_says_so() -> None:
    """No segment is to blame, and whatever else happens to it is said as ever."""
    resting = change(AlarmInput.SUPPRESS, AlarmState.SUPPRESSED)
    assert alarm_text(resting, ENTRY, "drying", in_doubt=True) == "ramp-high · rests: the reading is in doubt · drying"
    shelved = change(AlarmInput.SHELVE, AlarmState.SHELVED)
    assert alarm_text(shelved, ENTRY, "drying", in_doubt=True) == alarm_text(shelved, ENTRY, "drying")
