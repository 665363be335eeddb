"""What is said of a crucible before it is heated: in plain words, and nothing where nothing is wrong."""

from datetime import date

import msgspec
import pytest
from tests.records.registered import A3

from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import HeatNumber, Schedule, Segment, SegmentKind
from rampwarden.records.crucible_advice import judge_crucible, must_dry, warnings
from rampwarden.records.crucibles import Crucible, History

TODAY = date(2026, 2, 1)
USED = History(heats=3, last="2026-01-28T18:00:00Z")
UP = Segment("up", SegmentKind.RAMP, to_c=1100.0, max_rates=(Rate(15.0, 60.0),))
DRY = Segment("dry", SegmentKind.SOAK, at_c=180.0, hold_s=1800.0)
FAST = Schedule("Later heat", (UP,), "clay-graphite", heat=HeatNumber.LATER)
SLOW = Schedule("First heat", (DRY, UP), "clay-graphite", heat=HeatNumber.FIRST)


def changed(**changes: object) -> Crucible:
    return msgspec.structs.replace(A3, **changes)


@pytest.mark.parametrize("schedule", [FAST, SLOW])
def test_a_pot_in_use_on_its_own_schedule_needs_no_word(schedule: Schedule) -> None:
    """The same metal in other letters is the same metal; an unsaid one is no matter."""
    for metal in ("Bronze", "bronze", ""):
        assert warnings(A3, USED, schedule, metal, TODAY) == []
    assert warnings(changed(metal=""), USED, schedule, "brass", TODAY) == []


def test_another_metal_than_it_is_kept_for_is_said() -> None:
    """With why."""
    [said] = warnings(A3, USED, FAST, "brass", TODAY)
    assert said == (
        "crucible: A3 is kept for bronze, not brass: what is left in the wall spoils the melt; "
        "what would help: a crucible kept for brass"
    )


def test_a_first_heat_on_a_later_heats_schedule_is_said() -> None:
    """And that it dries nothing. A heat entered, or a first use that was noted, makes it a later one."""
    new = History()
    first, dry = warnings(A3, new, FAST, "", TODAY)
    assert first.startswith("crucible: this is the first heat of A3, and the schedule is for later ones")
    assert dry == (
        "drying: the crucible is new, and the schedule does not dry A3; what would help: a soak at 150 to 200 °C first"
    )
    assert warnings(A3, new, SLOW, "", TODAY) == []
    assert warnings(changed(first_used="2026-01-30"), new, FAST, "", TODAY) == []
    assert judge_crucible(A3, USED, FAST, "") == []


@pytest.mark.parametrize(
    ("crucible", "history", "why"),
    [
        (A3, History(), "the crucible is new"),
        (A3, USED, ""),
        (changed(stored="dry", stored_on="2026-01-30"), USED, ""),
        (changed(stored="damp", stored_on="2026-01-30"), USED, "it was stored damp"),
        (changed(stored="damp", stored_on="2026-01-28"), USED, "it was stored damp"),
        (changed(stored="damp", stored_on="2026-01-27"), USED, ""),  # heated since
        (changed(stored="damp", stored_on="2026-01-30", first_used="2025-01-01"), History(), "it was stored damp"),
        (A3, History(heats=1, last="2026-01-18T09:00:00Z"), ""),  # two weeks to the day
        (A3, History(heats=1, last="2026-01-17T09:00:00Z"), "it has stood for 15 days"),
        (changed(first_used="2025-12-24"), History(), "it has stood for 39 days"),
        (A3, History(heats=1, last="some day"), ""),  # a record from elsewhere
    ],
)
def test_a_pot_must_dry_when_new_damp_or_idle_for_weeks(crucible: Crucible, history: History, why: str) -> None:
    """And a heat after the damp has dried it."""
    assert must_dry(crucible, history, TODAY) == why


def test_an_idle_pot_is_warned_of_only_without_a_drying_soak() -> None:
    """On the first-heat schedule it is dried."""
    idle = History(heats=9, last="2025-11-01T09:00:00Z")
    [said] = warnings(A3, idle, FAST, "", TODAY)
    assert said.startswith("drying: it has stood for 92 days, and the schedule does not dry A3")
    assert warnings(A3, idle, SLOW, "", TODAY) == []


def test_a_schedule_for_another_class_is_said() -> None:
    """Unless it names none."""
    [said] = warnings(changed(crucible_class="fireclay"), USED, FAST, "", TODAY)
    assert said == "class: the schedule is for clay-graphite, and A3 is fireclay"
    assert warnings(changed(crucible_class="fireclay"), USED, Schedule("t", (UP,)), "", TODAY) == []


def test_a_retired_pot_is_the_first_thing_said() -> None:
    """Whatever else is wrong."""
    retired = changed(retired="2026-01-15", retired_why="crack at the rim", sheet=("20-200 C: at most 30 C / 1 h",))
    said = warnings(retired, USED, FAST, "brass", TODAY)
    assert said[0].startswith("crucible: A3 was retired on 2026-01-15 (crack at the rim): do not heat it")
    assert [line.partition(":")[0] for line in said] == ["crucible", "maker's sheet", "crucible"]


def test_a_schedule_that_allows_what_the_makers_sheet_forbids_is_said() -> None:
    """And one that keeps it is not."""
    [said] = warnings(changed(sheet=("20-200 C: at most 30 C / 1 h",)), USED, FAST, "", TODAY)
    assert said.startswith("maker's sheet: 'up' allows 900 °C/h, and the sheet says 20-200 C: at most 30 C / 1 h")
    assert warnings(changed(sheet=("20-200 C: at most 900 C / 1 h",)), USED, FAST, "", TODAY) == []
