"""What is said of a crucible before it is heated: in plain words, and nothing where nothing is wrong."""

from datetime import date

import msgspec
import pytest
from tests.records.registered import A3

from rampwarden.core.pot import IN_USE, NEW_POT, PotHappening, Why, readiness_of
from rampwarden.core.pot.readiness import Reason
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import HeatNumber, Schedule, Segment, SegmentKind
from rampwarden.plan import Verdict
from rampwarden.records.crucible_advice import judge_crucible, must_dry, warnings
from rampwarden.records.crucibles import Crucible
from rampwarden.records.register_life import EnteredHeat, Happened, PotLife, pot_life

TODAY = date(2026, 2, 1)
UP = Segment("up", SegmentKind.RAMP, to_c=1100.0, max_rates=(Rate(15.0, 60.0),))
DRY = Segment("dry", SegmentKind.SOAK, at_c=180.0, hold_s=1800.0)
FAST = Schedule("Later heat", (UP,), "clay-graphite", heat=HeatNumber.LATER)
SLOW = Schedule("First heat", (DRY, UP), "clay-graphite", heat=HeatNumber.FIRST)


FIRE = msgspec.structs.replace(NEW_POT, dry=True)


def life(crucible: Crucible, *days: str) -> PotLife:
    """Give the life of a pot with a heat on each of these days, entered before accounts were kept."""
    return pot_life(crucible, [EnteredHeat(f"{day}T09:00:00Z", 14_000.0, 1.8, None) for day in days], [], TODAY)


def changed(**changes: object) -> Crucible:
    return msgspec.structs.replace(A3, **changes)


NEW = life(A3)
USED = life(A3, "2026-01-28")


@pytest.mark.parametrize("schedule", [FAST, SLOW])
def test_a_pot_in_use_on_its_own_schedule_needs_no_word(schedule: Schedule) -> None:
    """The same metal in other letters is the same metal; an unsaid one is no matter."""
    for metal in ("Bronze", "bronze", ""):
        assert warnings(A3, USED, schedule, metal) == []
    assert warnings(changed(metal=""), USED, schedule, "brass") == []


def test_another_metal_than_it_is_kept_for_is_said() -> None:
    """With why."""
    [said] = warnings(A3, USED, FAST, "brass")
    assert said == (
        "crucible: A3 is kept for bronze, not brass: what is left in the wall spoils the melt; "
        "what would help: a crucible kept for brass"
    )


def test_a_first_heat_on_a_later_heats_schedule_is_said() -> None:
    """And that it dries nothing. A first use that was noted makes it a later one."""
    ready, first, dry = warnings(A3, NEW, FAST, "")
    assert ready == (
        "readiness: Dry it first. It was new, and no drying has been shown since; "
        "what would help: a schedule that dries it"
    )
    assert first.startswith("crucible: this is the first heat of A3, and the schedule is for later ones")
    assert dry == (
        "drying: the crucible is new, and the schedule does not dry A3; what would help: a soak at 150 to 200 °C first"
    )
    assert warnings(A3, NEW, SLOW, "") == []
    used = life(changed(first_used="2026-01-30"))
    assert warnings(A3, used, FAST, "") == []
    [judged] = judge_crucible(A3, used, FAST, "")
    assert (judged.topic, judged.verdict) == ("readiness", Verdict.FINE)


def test_a_dried_pot_whose_first_heat_is_to_finish_is_told_on_a_later_heats_schedule() -> None:
    """A drying oven alone makes no pot one in use; on a first-heat schedule there is nothing to say."""
    dried = PotLife(FIRE, readiness_of(FIRE), heats=1)
    ready, first = warnings(A3, dried, FAST, "")
    assert ready.startswith("readiness: Fire it before it takes up water.")
    assert first.startswith("crucible: the first heat of A3 is not behind it")
    assert warnings(A3, dried, SLOW, "") == []


@pytest.mark.parametrize("schedule", [FAST, SLOW])
def test_a_pot_to_inspect_is_told_whatever_the_schedule(schedule: Schedule) -> None:
    """With the command that says that it has been looked at, ready for a shell."""
    standing = msgspec.structs.replace(IN_USE, to_inspect=(Reason(Why.HEATED_DAMP),))
    [said] = warnings(changed(mark="B 7"), PotLife(standing, readiness_of(standing), heats=1), schedule, "")
    assert said.startswith(
        "readiness: Inspect it first: look at it and tap it cold before the next heat. It was heated"
    )
    assert said.endswith("rampwarden crucible amend 'B 7' --looked-at 'what you saw'")


@pytest.mark.parametrize(
    ("crucible", "heats", "damp_on", "why"),
    [
        (A3, (), "", "the crucible is new"),
        (A3, ("2026-01-28",), "", ""),
        (A3, ("2026-01-28",), "2026-01-30", "it was stored damp"),
        (A3, ("2026-01-28",), "2026-01-28", "it was stored damp"),
        (A3, ("2026-01-28",), "2026-01-27", ""),  # heated since
        (changed(first_used="2026-01-20"), (), "2026-01-30", "it was stored damp"),
        (A3, ("2026-01-18",), "", ""),  # two weeks to the day
        (A3, ("2026-01-17",), "", "it has stood for 15 days"),
        (changed(first_used="2025-12-24"), (), "", "it has stood for 39 days"),
        (A3, ("some day",), "", ""),  # a record from elsewhere
    ],
)
def test_a_pot_must_dry_when_new_damp_or_idle_for_weeks(
    crucible: Crucible, heats: tuple[str, ...], damp_on: str, why: str
) -> None:
    """And a heat after the damp has dried it."""
    damp = [Happened(PotHappening.STORED_DAMP, f"{damp_on}T23:59:59Z")] if damp_on else []
    entered = [EnteredHeat(f"{day}T09:00:00Z", 14_000.0, 1.8, None) for day in heats]
    assert must_dry(pot_life(crucible, entered, damp, TODAY)) == why


def test_an_idle_pot_is_warned_of_only_without_a_drying_soak() -> None:
    """On the first-heat schedule it is dried."""
    idle = life(A3, "2025-11-01")
    ready, dry = warnings(A3, idle, FAST, "")
    assert ready.startswith("readiness: Dry it first. It has stood for long enough to take up water;")
    assert dry.startswith("drying: it has stood for 92 days, and the schedule does not dry A3")
    assert warnings(A3, idle, SLOW, "") == []


def test_a_schedule_for_another_class_is_said() -> None:
    """Unless it names none."""
    [said] = warnings(changed(crucible_class="fireclay"), USED, FAST, "")
    assert said == "class: the schedule is for clay-graphite, and A3 is fireclay"
    assert warnings(changed(crucible_class="fireclay"), USED, Schedule("t", (UP,)), "") == []


def test_a_retired_pot_is_the_first_thing_said() -> None:
    """Whatever else is wrong."""
    retired = changed(retired="2026-01-15", retired_why="crack at the rim", sheet=("20-200 C: at most 30 C / 1 h",))
    said = warnings(retired, USED, FAST, "brass")
    assert said[0].startswith("crucible: A3 was retired on 2026-01-15 (crack at the rim): do not heat it")
    assert [line.partition(":")[0] for line in said] == ["crucible", "maker's sheet", "crucible"]


def test_a_schedule_that_allows_what_the_makers_sheet_forbids_is_said() -> None:
    """And one that keeps it is not."""
    [said] = warnings(changed(sheet=("20-200 C: at most 30 C / 1 h",)), USED, FAST, "")
    assert said.startswith("maker's sheet: 'up' allows 900 °C/h, and the sheet says 20-200 C: at most 30 C / 1 h")
    assert warnings(changed(sheet=("20-200 C: at most 900 C / 1 h",)), USED, FAST, "") == []
