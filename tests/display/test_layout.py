"""The display laid out, at every size and with everything that may go wrong: without a terminal."""

import re
import time
from datetime import UTC, datetime

import pytest
from msgspec import structs
from rich.console import Console
from rich.text import Text

from pictured_heat import PicturedHeat
from rampwarden.core.model import (
    CommandName,
    GasState,
    NoticeName,
    OpenQuestion,
    Priority,
    ProbeStatus,
    Quality,
    StandingStatement,
    StandInState,
    WallState,
    WaterState,
    WithheldAlarms,
)
from rampwarden.display.degrees import CELSIUS, Degrees
from rampwarden.display.layout import Surroundings, lay_out
from rampwarden.display.letters import letters
from rampwarden.display.numerals import numeral_size, numerals
from rampwarden.display.strip import draw_strip
from rampwarden.display.terminal_style import Looks, has_blocks
from rampwarden.picture.picture import Mode, Picture

COLOURED = Looks()
SIZES = [(40, 12), (60, 20), (80, 24), (100, 30), (200, 60), (300, 20), (41, 90)]


def shown(
    picture: Picture,
    width: int = 100,
    height: int = 30,
    looks: Looks = COLOURED,
    *,
    later_s: float = 0.0,
    log: str = "",
    degrees: Degrees = CELSIUS,
) -> str:
    """Lay a picture out and give it as text; `later_s` real seconds after it was made."""
    wall = datetime(2026, 1, 1, 9, tzinfo=UTC)
    around = Surroundings(picture.shown_at_s + later_s, wall, (log,), looks.text("keys"), degrees)
    lines = lay_out(picture, around, width, height, looks)
    assert len(lines) == height
    assert max(line.cell_len for line in lines) <= width
    return "\n".join(line.plain for line in lines)


def written(picture: Picture, looks: Looks, width: int = 100, height: int = 30) -> bytes:
    """Give what a terminal would be sent."""
    around = Surroundings(time.monotonic(), datetime(2026, 1, 1, 9, tzinfo=UTC), (), looks.text("keys"))
    return b"\n".join(looks.encode(line, Console(width=500)) for line in lay_out(picture, around, width, height, looks))


def with_status(picture: Picture, **fields: object) -> Picture:
    """Give the picture with some of its status changed."""
    return structs.replace(picture, status=structs.replace(picture.status, **fields))


def heat_in_trouble(mode: Mode = Mode.LIVE) -> PicturedHeat:
    """Climbing far too fast, with both alarms of that."""
    return PicturedHeat(mode).climb(21.0, 60.0).climb(60.0, 240.0)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_size_says_how_hot_how_fast_what_now_and_what_is_wrong(width: int, height: int) -> None:
    """Exactly as many lines as there are, none too long."""
    text = shown(heat_in_trouble().keeper.picture(), width, height)
    assert "ramp-high" in text
    # In large letters, or where those have no room in a line.
    assert "→ lower the heat" in text or any(
        letters("LOWER THE HEAT", scale, blocks=True)[0].rstrip() in text for scale in (1, 2, 3)
    )
    assert "drying" in text
    assert "keys" in text.splitlines()[-1]


@pytest.mark.parametrize(("width", "height"), [(1, 1), (38, 30), (100, 11), (10, 5)])
def test_too_small_a_terminal_still_tells_the_temperature(width: int, height: int) -> None:
    """And what would be enough, where that fits."""
    text = shown(heat_in_trouble().keeper.picture(), width, height)
    if width > 10:
        assert "60 °C" in text
        assert "1 high, 1 low" in text


@pytest.mark.parametrize(("half_steps", "columns", "rows"), [(2, 27, 5), (3, 39, 8), (4, 54, 10), (8, 108, 20)])
def test_numerals_are_as_large_as_they_say(half_steps: int, columns: int, rows: int) -> None:
    """Four of them with the gaps between, blocks or not."""
    assert numeral_size(4, half_steps) == (columns, rows)
    for blocks in (True, False):
        drawn = numerals("1150", half_steps, blocks=blocks)
        assert (len(drawn), {len(row) for row in drawn}) == (rows, {columns})
        assert len({numerals(digit, half_steps, blocks=blocks) for digit in "0123456789"}) == 10


def test_a_larger_terminal_has_larger_numerals() -> None:
    """Who has the room wants to read it from further away."""
    picture = PicturedHeat().climb(40.0, 900.0).keeper.picture()
    blocks = [shown(picture, width, height).count("█") for width, height in ((60, 20), (100, 30), (200, 60))]
    assert blocks == sorted(blocks)
    assert blocks[2] > 5 * blocks[0]


def test_the_ramp_stands_in_its_allowed_band() -> None:
    """A number, its unit, the limit in words, and a dot."""
    text = shown(PicturedHeat().climb(40.0, 900.0).keeper.picture(), 60, 20)
    assert "+80 °C/h" in text
    assert "at most +100" in text
    assert "●" in text


@pytest.mark.parametrize("width", [200, 300])
def test_corridor_and_gauge_are_never_wider_than_sixty_columns(width: int) -> None:
    """Drawn across a wall screen, a dot would be a walk away from the edge it should be held against."""
    heat = PicturedHeat()
    heat.temp_c = 200.0
    text = shown(heat.climb(200.0, 720.0).keeper.picture(), width, 30)
    [corridor] = re.findall(r"185 [░●]+ 215 °C", text)
    assert "●" in corridor
    assert len(corridor) == 60
    text = shown(PicturedHeat().climb(40.0, 900.0).keeper.picture(), width, 30)
    [gauge] = [each for each in re.findall(r"[─░│●]{12,}", text) if "│" in each and "●" in each]
    assert len(gauge) == 60


def test_outside_its_corridor_it_says_by_how_much() -> None:
    """In words and in reverse: no colour is needed to see it."""
    picture = heat_in_trouble().keeper.picture()
    assert "above its corridor" in shown(picture)
    assert b"\x1b[1;7m" in written(picture, Looks(colour=False))


def test_what_explains_the_last_minutes_is_said_once() -> None:
    """A message here; what an alarm says already is in the alarm's own line."""
    picture = PicturedHeat().climb(40.0, 900.0).keeper.picture()
    lid = StandingStatement("lid-or-probe", "likely the lid was lifted or the probe moved, since 0:14 h", 840.0)
    out = StandingStatement("flame-out", "likely the flame is out, since 0:14 h", 840.0, alarm="flame-out")
    assert "likely the lid was lifted" in shown(with_status(picture, statement=lid))
    assert "likely the flame is out" not in shown(with_status(picture, statement=out))


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30)])
def test_a_ramp_alarm_that_is_held_back_stands_beside_the_temperature(width: int, height: int) -> None:
    """With how long it can still be."""
    picture = PicturedHeat().climb(40.0, 900.0).keeper.picture()
    until_s = picture.status.time_s + 75.0
    withheld = WithheldAlarms(("ramp-high", "ramp-forecast"), "the pot does not climb so", until_s - 90.0, until_s)
    assert "ramp-high held back, 1 min 15 s more" in shown(with_status(picture, withheld=withheld), width, height)


def test_a_soak_shows_its_clock() -> None:
    """How long it has soaked, of how long, and that the clock runs."""
    heat = PicturedHeat()
    heat.temp_c = 200.0
    text = shown(heat.climb(205.0, 720.0).keeper.picture(), 60, 20)
    assert "soaked 12 min of 30 min · soaking" in text


def test_a_soak_that_is_not_confirmed_says_so_on_a_narrow_screen_too() -> None:
    """What may turn out not to count is not what is cut off."""
    heat = PicturedHeat()
    heat.temp_c = 200.0
    text = " ".join(shown(heat.climb(200.0, 1200.0).keeper.picture(), 40, 24).split())
    assert heat.monitor.status().unconfirmed_s > 600.0
    assert "soaked 20 min of 30 min, " in text
    assert " min not confirmed · soaking" in text


def test_a_pot_still_hot_is_watched_and_nothing_is_promised_before_the_end() -> None:
    """Then what it is ready for stands there with the reasons, the gravest first."""
    heat = PicturedHeat().climb(205.0, 9000.0, 10.0).climb(204.0, 2000.0, 10.0).climb(655.0, 2400.0, 10.0)
    text = shown(heat.keeper.picture())
    assert "cooling, still watched" in text
    assert "then the schedule is done" not in text
    assert heat.keeper.picture().status.readiness is None
    heat.say(CommandName.END_HEAT)
    heat.show()
    readiness = heat.keeper.picture().status.readiness
    assert readiness is not None
    text = " ".join(shown(heat.keeper.picture(), 200, 60).split())
    assert text.index(readiness.sentence) < text.index(readiness.reasons[0][:60])


@pytest.mark.parametrize(("width", "height"), [(200, 60), (80, 24), (60, 20)])
def test_it_says_whose_temperature_stands_there_where_it_is_known(width: int, height: int) -> None:
    """What the chamber has is not what the pot has; where nobody has said it, nothing is made up."""
    for place, words in (("chamber", "probe in the chamber: the pot lags behind"), ("pot", "probe on the pot")):
        assert words in shown(PicturedHeat(place=place).climb(40.0, 900.0).keeper.picture(), width, height)
    assert "probe" not in shown(PicturedHeat().climb(40.0, 900.0).keeper.picture(), width, height)


@pytest.mark.parametrize(("width", "height"), [(200, 60), (80, 24), (60, 20)])
def test_it_says_what_is_reckoned_of_wall_and_gas(width: int, height: int) -> None:
    """Below whose temperature it is; as few lines as it takes."""
    heat = PicturedHeat().climb(40.0, 900.0)
    gas = GasState(1, 6.62, -8.4, 3.1, 1.0, 20.0, 2520.0, 6.1)
    heat.keeper.show(structs.replace(heat.monitor.status(), wall=WallState(31.6, 0.12, None, None), gas=gas))
    text = " ".join(shown(heat.keeper.picture(), width, height).split())
    assert "bottle 6.6 kg left, liquid -8 °C, 3.1 bar · short in about 42 min with 6.1 kg left" in text
    assert "through the wall 32 K now · 12 % of what it stands, good to a factor of two" in text
    assert "wall" not in shown(PicturedHeat().climb(40.0, 900.0).keeper.picture(), width, height)


@pytest.mark.parametrize(
    ("water", "words"),
    [
        (WaterState(900.0, 0.6, None), "water is leaving the wall, or the oven stands still: hold the oven"),
        (WaterState(900.0, 0.6, 1500.0), "its water has left: the climb has recovered; only its weight proves it dry"),
        (
            WaterState(900.0, 0.6, None, missed=True),
            "no recovery of the climb was seen: the pot is not shown to be dry",
        ),
    ],
)
def test_it_says_what_the_climb_shows_of_the_water(water: WaterState, words: str) -> None:
    """What to do first; and weights alone are no news of it."""
    heat = PicturedHeat().climb(40.0, 900.0)
    heat.keeper.show(structs.replace(heat.monitor.status(), water=water))
    assert words in " ".join(shown(heat.keeper.picture()).split())
    heat.keeper.show(structs.replace(heat.monitor.status(), water=WaterState(None, None, None, 5.15)))
    assert heat.keeper.picture().physics == ()


def test_a_soak_by_a_probe_in_the_chamber_is_the_chambers() -> None:
    heat = PicturedHeat(place="chamber").climb(200.0, 3.0 * 3600.0, every_s=5.0).climb(200.0, 600.0)
    assert " of 30 min by the chamber" in shown(heat.keeper.picture())


def test_an_alarm_that_is_over_asks_only_to_be_acknowledged() -> None:
    """Nobody should open the lid for what has passed."""
    heat = heat_in_trouble().climb(60.0, 1200.0)
    text = shown(heat.keeper.picture())
    assert "ENDED !!! HIGH ramp-high" in text
    heat.say(CommandName.ACKNOWLEDGE)
    assert "no alarm" in shown(heat.keeper.picture())


def test_priority_is_read_without_colour() -> None:
    """By a word and by marks."""
    looks = Looks(colour=False)
    text = shown(heat_in_trouble().keeper.picture(), looks=looks)
    assert "!!! HIGH ramp-high" in text
    assert "! LOW ramp-forecast" in text
    assert b"\x1b[3" not in written(heat_in_trouble().keeper.picture(), looks)
    assert {looks.style(priority).reverse for priority in Priority} == {True, None}


def test_what_has_no_room_is_counted_by_its_priority() -> None:
    """And the most urgent is the one that stays."""
    for width, height in ((40, 12), (60, 20)):
        text = shown(heat_in_trouble().keeper.picture(), width, height)
        assert "1 NEW !!! HIGH ramp-high" in text
        assert "and 1 more: 1 low" in text or "2 ENDED ! LOW ramp-forecast" in text


def test_a_frozen_temperature_never_looks_like_a_present_one() -> None:
    """The numerals go, and it says for how long there has been no news."""
    picture = PicturedHeat().climb(188.0, 900.0).keeper.picture()
    assert "no news" not in shown(picture, later_s=2.0)
    text = shown(picture, later_s=70.0)
    assert "no news from the watch for 1 min 10 s" in text
    assert "last 188 °C" in text
    assert text.count("█") < shown(picture).count("█") / 3


def test_a_reading_that_is_old_is_said_to_be() -> None:
    """The watch runs, the board is silent."""
    heat = PicturedHeat().climb(188.0, 900.0)
    for event in heat.monitor.advance(930.0):
        heat.keeper.tell(event)
    text = shown(heat.show().keeper.picture())
    assert "no reading for 30 s" in text
    assert "BOARD silent" in text
    assert "signal-lost" in text


def test_without_a_thermocouple_there_is_no_number() -> None:
    """An open sensor is no temperature."""
    heat = PicturedHeat().climb(188.0, 900.0)
    heat.lose_the_sensor()
    text = shown(heat.keeper.picture())
    assert "no temperature" in text
    assert "sensor-open" in text


def test_health_of_board_record_and_broker_stands_at_the_bottom() -> None:
    """In capitals once something is wrong."""
    heat = PicturedHeat(has_broker=True).climb(21.0, 10.0)
    assert "board OK, read 0 s ago · recording · broker not connected yet" in shown(heat.keeper.picture())
    heat.note_news(NoticeName.RECORD_FAILING, text="no space left")
    heat.note_news(NoticeName.FRAMES_LOST, count=2)
    text = shown(heat.keeper.picture())
    assert "2 frames lost" in text
    assert "RECORD FAILING no space left" in text


@pytest.mark.parametrize(
    ("mode", "words"), [(Mode.REHEARSAL, "REHEARSAL ×1 · no furnace"), (Mode.REPLAY, "REPLAY of 2026-01-01")]
)
def test_nobody_takes_a_rehearsal_or_a_replay_for_a_furnace(mode: Mode, words: str) -> None:
    """The first words of the screen, in reverse."""
    picture = PicturedHeat(mode).climb(21.0, 10.0).keeper.picture()
    for width, height in SIZES:
        assert shown(picture, width, height).startswith(f" {words}")
    assert b"\x1b[1;7m" in written(picture, Looks()).partition(b"\n")[0]


def test_a_live_heat_says_by_the_clock_when_it_is_done() -> None:
    """For planning lunch; of a rehearsal that would be nonsense."""
    assert ", about " in shown(PicturedHeat().climb(40.0, 900.0).keeper.picture())
    assert ", about " not in shown(PicturedHeat(Mode.REHEARSAL).climb(40.0, 900.0).keeper.picture())


def test_the_strip_has_the_corridor_the_course_and_one_dot_at_its_end() -> None:
    """Newest at the right, with the way ahead beyond it."""
    rows = draw_strip(PicturedHeat().climb(80.0, 2700.0).keeper.picture(), 86, 15)
    assert len(rows) == 15
    assert {len(row) for row in rows} == {86}
    signs = [(sign, column) for row in rows for column, (sign, _) in enumerate(row)]
    dots = [column for sign, column in signs if sign == "●"]
    assert dots == [70]
    assert max(column for sign, column in signs if sign in "▀▄█") == 69
    assert min(column for sign, column in signs if sign == "·") > 70
    assert any(sign == "░" for sign, _ in signs)


def test_the_strip_leaves_a_gap_where_nothing_was_measured() -> None:
    """A line drawn across it would be an invention."""
    heat = PicturedHeat().climb(40.0, 600.0)
    heat.time_s += 600.0
    rows = draw_strip(heat.climb(60.0, 600.0).keeper.picture(), 86, 15)
    columns = {column for row in rows for column, (sign, _) in enumerate(row) if sign in "▀▄█"}
    assert not columns & set(range(29, 47))


def test_a_silence_longer_than_the_strip_leaves_it_out() -> None:
    """Everything else is still said."""
    heat = PicturedHeat().climb(188.0, 900.0)
    for event in heat.monitor.advance(900.0 + 3600.0):
        heat.keeper.tell(event)
    picture = heat.show().keeper.picture()
    assert draw_strip(picture, 86, 15) == []
    for width, height in SIZES:
        assert "no reading for 1 h" in shown(picture, width, height)


def test_text_of_others_cannot_steer_the_terminal() -> None:
    """A crucible's mark, a note in the log, a wide letter: harmless, and in their place."""
    heat = PicturedHeat(crucible="A3\x1b]0;gotcha\x07\u202e").climb(21.0, 10.0)
    sent = written(heat.keeper.picture(), Looks())
    assert b"\x1b]" not in sent
    assert b"\x07" not in sent
    assert "\u202e".encode() not in sent
    shown(PicturedHeat(crucible="坩堝" * 40).climb(21.0, 10.0).keeper.picture(), 60, 20)


def test_without_block_characters_it_is_all_ascii() -> None:
    """An old console on a serial line."""
    looks = Looks("ascii", has_blocks("ascii"), colour=False)
    sent = written(heat_in_trouble().keeper.picture(), looks, 100, 30)
    assert max(sent) < 128
    assert b"?" not in sent
    assert b"#" in sent
    assert b"@" in sent


def test_which_encodings_have_blocks() -> None:
    """Those of today and of old PCs; not those of the typewriter."""
    assert has_blocks("utf-8")
    assert not has_blocks("latin-1")
    assert not has_blocks("no such")


@pytest.mark.parametrize(("width", "height"), [(40, 12), (80, 24), (200, 60)])
def test_probes_beside_the_followed_one_stand_in_one_row_and_take_nothing_from_its_numerals(
    width: int, height: int
) -> None:
    """What is followed stays the largest, and the row is cut off where the screen ends."""
    picture = PicturedHeat().climb(40.0, 60.0).keeper.picture()
    probes = tuple(ProbeStatus(name, name, 820.0, Quality.GOOD, 60.0, 7.0) for name in ("chamber", "bottle", "room"))
    without, beside = shown(picture, width, height), shown(with_status(picture, probes=probes), width, height)
    rows = [line for line in beside.splitlines() if "chamber 820 ± 7 °C" in line]
    assert len(rows) == 1
    assert "chamber" not in without
    above = beside[: beside.index(rows[0])].splitlines()
    assert above[1:] == without.splitlines()[1 : len(above)]


@pytest.mark.parametrize(("width", "height"), [(40, 12), (80, 24), (200, 60)])
def test_a_temperature_that_is_guessed_says_so_beneath_its_numerals(width: int, height: int) -> None:
    """Which probe stands in, and how far its guess may be off, in a row of their own."""
    picture = PicturedHeat().climb(40.0, 60.0).keeper.picture()
    state = StandInState("chamber", "chamber", 40.0, 12.0, 14.4, (), True)
    rows = shown(with_status(picture, standing_in=state), width, height).splitlines()
    assert [row for row in rows if "by the chamber probe, ± 14 °C" in row]
    assert "by the chamber probe" not in shown(picture, width, height)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_what_waits_for_an_answer_stands_at_every_size(width: int, height: int) -> None:
    """The oldest whole, and that there are more; nothing stands there where nothing was asked."""
    picture = heat_in_trouble().keeper.picture()
    assert "replies" not in shown(picture, width, height)
    questions = tuple(OpenQuestion(number, f"Mist {number}?", ("yes",), 60.0) for number in (1, 2, 3))
    text = shown(with_status(picture, questions=questions), width, height)
    assert "? Mist 1? · and 2 more · r replies" in text


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_checklist_gives_way_to_what_is_to_be_done_at_once(width: int, height: int) -> None:
    """The order is read from three metres; any other question keeps one row, cut if it must be."""
    picture = heat_in_trouble().keeper.picture()
    ordered = tuple(structs.replace(each, is_first=not n) for n, each in enumerate(picture.status.alarms))
    check = OpenQuestion(1, "Hose and valve tried for leaks", ("done", "not needed"), 0.0, is_check=True)
    asked = OpenQuestion(2, "Is there mist at the door or at the lid of the furnace?", ("yes",), 60.0)
    calm = with_status(picture, alarms=(), questions=(check,))
    assert "[ ] Hose and valve" in shown(calm, width, height)
    busy = with_status(picture, alarms=ordered, questions=(check,))
    assert "Hose" not in shown(busy, width, height)
    rows = [row for row in shown(with_status(busy, questions=(asked, check)), width, height).split("\n") if "?" in row]
    assert len(rows) == 1
    assert rows[0].startswith(" ? Is there mist")


def test_who_watches_stands_in_the_title() -> None:
    """Beside the schedule's."""
    picture = with_status(heat_in_trouble().keeper.picture(), watched_by="Ana\x1b[2J")
    assert "A heat to look at · watched by Ana" in shown(picture).splitlines()[0]


def test_a_line_of_keys_that_is_too_long_takes_several() -> None:
    """No mark may be out of sight."""
    picture = heat_in_trouble().keeper.picture()
    around = Surroundings(picture.shown_at_s, datetime(2026, 1, 1, 9, tzinfo=UTC), (), Text("one\ntwo"))
    assert [line.plain for line in lay_out(picture, around, 80, 24, COLOURED)[-2:]] == ["one", "two"]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_in_fahrenheit_no_figure_is_in_celsius_at_any_size(width: int, height: int) -> None:
    """Numerals, ramp, corridor, strip, large letters, alarms, log; and what people wrote stays as it is."""
    probes = (ProbeStatus("chamber", "chamber", 100.0, Quality.GOOD, 300.0, 3.0),)
    picture = with_status(heat_in_trouble().keeper.picture(), probes=probes, wall=WallState(10.0, 0.1, None, None))
    log = " 0:05:00  ramp-high · 26 °C within 15 min, limit 25"
    text = shown(picture, width, height, log=log, degrees=Degrees(fahrenheit=True))
    assert "°C" not in text
    assert " K " not in text
    assert "212 ± 5.4 °F" in text
    note = " 0:05:00  note · oven at 100 °C"
    assert "oven at 100 °C" in shown(picture, 200, 60, log=note, degrees=Degrees(fahrenheit=True))


def test_in_fahrenheit_the_figures_are_those_of_the_same_heat() -> None:
    """60 °C are 140 °F, and 25 °C in a quarter of an hour 45 °F; they stand in the same places."""
    picture = heat_in_trouble().keeper.picture()
    celsius, fahrenheit = (shown(picture, 100, 30, degrees=each) for each in (CELSIUS, Degrees(fahrenheit=True)))
    for said, turned in (("heat to 200 °C", "heat to 392 °F"), ("at most 25 °C in", "at most 45 °F in")):
        assert said in celsius
        assert turned in fahrenheit
    assert "limit 45" in fahrenheit
    assert "°F/h" in fahrenheit
    drawn = [numerals("140", half_steps, blocks=True) for half_steps in range(2, 13)]
    assert any(all(row in fahrenheit for row in each) for each in drawn)
    assert not any(all(row in celsius for row in each) for each in drawn)
