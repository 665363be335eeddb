"""Schedules drafted from a sheet's limits: they can be watched, and allow nothing that the sheet forbids."""

import tomllib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rampwarden.core.heat import parse_schedule, schedule_doubts
from rampwarden.core.quantities import Rate
from rampwarden.core.schedule import HeatNumber, Schedule, SegmentKind
from rampwarden.errors import ScheduleError
from rampwarden.plan import (
    DraftWishes,
    Pot,
    SheetLimit,
    Verdict,
    draft_schedule,
    judge_sheet,
    lay_out,
    parse_sheet_limit,
    wishes_of_usual,
)
from rampwarden.schedule_files import SCHEDULE_FOLDERS, list_schedules, read_schedule

SHEET = tuple(
    map(
        parse_sheet_limit,
        (
            "20-200 C: at most 30 C / h",
            "200-650 C: at most 15 C / min",
            "200-650 C: at least 40 C / 5 min",
            "650-1300 C: at most 20 C / min",
            "cooling 1300-200 C: at most 100 C / h",
        ),
    )
)


def drafted(wishes: DraftWishes) -> Schedule:
    return parse_schedule(tomllib.loads(draft_schedule(wishes)), "draft.toml")


def test_what_it_would_ask_stands_in_the_file_and_asks_nothing_until_it_is_wanted() -> None:
    """As comments: whoever takes their # away gets what the flag would have written."""
    wishes = DraftWishes("A3", 1150.0, dry_c=180.0)
    silent, asking = drafted(wishes), drafted(replace(wishes, asks=True))
    assert (silent.checklist, silent.segments[0].asks) == ((), ())
    assert "CO detector on, and tested" in asking.checklist
    assert asking.segments[0].asks[0].answers == ("mist seen", "mist gone")
    lines = draft_schedule(wishes).replace("# checklist", "checklist").replace('#   "', '  "').replace("# ]", "]")
    taken_up = parse_schedule(tomllib.loads(lines.replace("# ask", "ask")), "draft.toml")
    assert (taken_up.checklist, taken_up.segments[0].asks) == (asking.checklist, asking.segments[0].asks)


def test_a_sheet_that_says_everything_makes_a_schedule_without_a_doubt() -> None:
    """Its limits in its ranges, an hour's window cut to a quarter of the same slope."""
    wishes = DraftWishes("A3", 1150.0, sheet="sheet 7", sheet_top_c=1180.0, limits=SHEET, dry_c=180.0, in_oven=True)
    schedule = drafted(wishes)
    assert [(each.name, each.target_c) for each in schedule.segments] == [
        ("drying", 180.0),
        ("dry soak", 180.0),
        ("oven to furnace", None),
        ("to 200 °C", 200.0),
        ("to 650 °C", 650.0),
        ("to working temperature", 1150.0),
        ("working temperature", 1150.0),
        ("closed furnace", 300.0),
    ]
    assert schedule.segments[0].max_rates == (Rate(7.5, 900.0),)
    assert schedule.segments[4].max_rates == (Rate(15.0, 60.0),)
    assert schedule.segments[4].min_rate == Rate(40.0, 300.0)
    assert schedule.segments[6].ceiling_c == 1180.0
    assert schedule.segments[7].max_rates == (Rate(25.0, 900.0),)
    assert schedule_doubts(schedule, "K", (-270.0, 1372.0)) == ()


def test_where_nobody_has_said_anything_the_place_is_left_open() -> None:
    """A limit that was made up would look like one of the maker's."""
    text = draft_schedule(DraftWishes("Other", 900.0, limits=SHEET[:1], sheet="sheet 7"))
    assert 'max_rate = "7.5 C / 15 min"       # sheet 7: 30 °C in 1 h' in text
    assert "# max_rate = " in text
    assert "nobody has said how fast from 200 to 900 °C: ask the maker" in text
    ramp = parse_schedule(tomllib.loads(text), "draft.toml").segments[1]
    assert (ramp.kind, ramp.max_rates) == (SegmentKind.RAMP, ())


def test_a_generic_schedule_fills_in_and_the_sheet_outranks_it() -> None:
    """Whose each limit is stands beside it; generic evening-out is kept, for a sheet is silent about it."""
    usual, _ = read_schedule(next(path for path in list_schedules(SCHEDULE_FOLDERS) if path.stem == "fireclay"))
    lent = wishes_of_usual(usual, "fireclay", HeatNumber.FIRST, 1100.0)
    wishes = DraftWishes("F", 1100.0, sheet="sheet 9", limits=SHEET[:1], **lent)  # type: ignore[arg-type]
    text = draft_schedule(wishes)
    assert "# sheet 9: 30 °C in 1 h" in text
    assert "# fireclay: common practice, no source" in text
    schedule = parse_schedule(tomllib.loads(text), "draft.toml")
    soaks = [each.at_c for each in schedule.segments if each.kind is SegmentKind.SOAK]
    assert soaks == [120.0, 540.0, 595.0, 1100.0]
    assert not [doubt for doubt in schedule_doubts(schedule, "K", (-270.0, 1372.0)) if "nothing limits" in doubt.words]


@pytest.mark.parametrize("path", list_schedules(SCHEDULE_FOLDERS), ids=lambda path: path.stem)
@pytest.mark.parametrize("heat", HeatNumber)
def test_every_shipped_schedule_can_lend_to_a_draft_at_any_working_temperature(path: object, heat: HeatNumber) -> None:
    """Hotter than its own top, whose limits then hold on, and colder."""
    usual, _ = read_schedule(path)  # type: ignore[arg-type]
    for top_c in (900.0, 1340.0):
        lent = wishes_of_usual(usual, "usual", heat, top_c)
        schedule = drafted(DraftWishes("T", top_c, in_oven=True, **lent))  # type: ignore[arg-type]
        assert all(each.max_rates for each in schedule.segments if each.kind is SegmentKind.RAMP)
        assert schedule.segments[0].name.startswith("drying") is (heat is HeatNumber.FIRST)


@pytest.mark.parametrize(
    ("wishes", "why"),
    [
        (DraftWishes("T", 25.0), "25 °C is no heat"),
        (DraftWishes("T", 1398.0, sheet_top_c=1400.0), "the sheet ends at 1400 °C: .* at most 1395 °C"),
        (DraftWishes("T", 190.0, dry_c=180.0), "drying at 180 °C must lie well below the 190 °C of the heat"),
        (DraftWishes("T", 250.0), "a heat to 250 °C cannot cool to 300 °C"),
    ],
)
def test_wishes_that_contradict_one_another_are_refused(wishes: DraftWishes, why: str) -> None:
    """In one sentence that says what would do."""
    with pytest.raises(ScheduleError, match=why):
        draft_schedule(wishes)


LIMITS = st.builds(
    SheetLimit,
    from_c=st.sampled_from([20.0, 150.0, 400.0]),
    to_c=st.sampled_from([450.0, 700.0, 1300.0]),
    rate=st.builds(Rate, st.sampled_from([5.0, 25.0, 100.0]), st.sampled_from([60.0, 900.0, 3600.0, 7200.0])),
    cooling=st.booleans(),
)


@given(st.lists(LIMITS, max_size=4), st.sampled_from([600.0, 1000.0, 1150.0]), st.sampled_from([None, 180.0]))
def test_no_draft_allows_what_its_sheet_forbids(limits: list[SheetLimit], top_c: float, dry_c: float | None) -> None:
    """The plan, which judges schedules against sheets by itself, has nothing against it."""
    wishes = DraftWishes("T", top_c, limits=tuple(limits), sheet="s", sheet_top_c=1300.0, dry_c=dry_c, in_oven=True)
    pot = Pot(sheet=tuple(limits), sheet_top_c=1300.0)
    judged = judge_sheet(lay_out(drafted(wishes), 20.0), pot)
    assert all(judgement.verdict is Verdict.FINE for judgement in judged), judged
