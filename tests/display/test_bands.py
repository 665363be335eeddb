"""What stands in large letters: at every size the order, and from 80 by 24 on the segment and its rule too."""

from datetime import UTC, datetime
from itertools import product

import pytest
from msgspec.structs import replace
from rich.text import Text

from pictured_heat import PicturedHeat
from rampwarden.core.model import CommandName, NoticeName
from rampwarden.core.short_orders import ShortOrder
from rampwarden.display.bands import LargeBand, large_bands
from rampwarden.display.layout import Surroundings, lay_out
from rampwarden.display.letters import letters
from rampwarden.display.terminal_style import Looks
from rampwarden.picture import Picture


def too_fast() -> Picture:
    """Six degrees a minute where 25 in 15 min are allowed."""
    return PicturedHeat().climb(20.0 + 60.0, 600.0).keeper.picture()


def stands(text: str, lines: list[Text], *scales: int) -> bool:
    """Tell whether a text stands somewhere on the screen in letters of one of these scales, of any if none is given."""
    return any(_stands(letters(text, scale, blocks=True), lines) for scale in scales or (1, 2, 3))


def _stands(drawn: tuple[str, ...], lines: list[Text]) -> bool:
    plain = [line.plain for line in lines]
    return any(
        all(row.rstrip() in line for row, line in zip(drawn, plain[top : top + len(drawn)], strict=True))
        for top in range(len(plain) - len(drawn) + 1)
    )


def screen(picture: Picture, width: int, height: int) -> list[Text]:
    around = Surroundings(picture.shown_at_s, datetime(2026, 1, 1, tzinfo=UTC), (), Text(" keys"))
    return lay_out(picture, around, width - 1, height, Looks())


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (120, 40)])
def test_what_to_do_ramp_limit_segment_and_rule_are_large(size: tuple[int, int]) -> None:
    """While an alarm stands: whoever comes back with a ladle reads them before reaching the keyboard."""
    lines = screen(too_fast(), *size)
    assert stands("LOWER THE HEAT", lines)
    assert stands("max 100", lines)
    assert stands("drying", lines)
    assert stands("25 °C in 15 min", lines)
    assert any("ramp-high" in line.plain and line.plain.lstrip(" 1").startswith("NEW") for line in lines)


def test_a_wide_screen_has_larger_letters() -> None:
    """Three metres become ten."""
    lines = screen(too_fast(), 200, 60)
    assert stands("LOWER THE HEAT", lines, 3)
    assert stands("25 °C in 15 min", lines, 2)


def test_every_order_stands_whole_at_eighty_columns() -> None:
    """None is longer than the screen, whatever alarm it comes from."""
    picture = too_fast()
    first = picture.first_order
    assert first is not None
    for order in (each for each in ShortOrder if each):
        alarms = (replace(first, order=str(order)),)
        assert stands(str(order), screen(replace(picture, alarms=alarms), 80, 24)), order


def test_on_sixty_columns_a_long_order_stands_in_two_lines() -> None:
    """It would not fit on one; on a screen too low for that it stands in the alarm's own line."""
    picture = too_fast()
    first = picture.first_order
    assert first is not None
    long = replace(picture, alarms=(replace(first, order="CLOSE THE GAS VALVE"),))
    lines = screen(long, 60, 24)
    assert stands("CLOSE THE", lines)
    assert stands("GAS VALVE", lines)
    assert "→ lower the heat" in "\n".join(line.plain for line in screen(long, 40, 12))


@pytest.mark.parametrize(("width", "height"), list(product((39, 59, 79, 99, 199), (12, 16, 20, 24, 30, 40, 60))))
def test_the_bands_take_no_more_rows_than_they_are_given(width: int, height: int) -> None:
    """What does not fit is left out, the order last."""
    picture = too_fast()
    for rows in range(height):
        bands = large_bands(picture, width, height, rows)
        taken = sum(band.rows for band in bands) + max(0, len([b for b in bands if not b.style]) - 1)
        assert taken <= rows or not bands
        if bands and rows >= bands[0].rows and width >= 59:
            assert bands[0].style == "high"


def test_without_an_order_none_stands_and_the_segment_does() -> None:
    """An alarm that is over orders nothing, in large letters least of all."""
    heat = PicturedHeat().climb(80.0, 600.0)
    heat.climb(80.0, 1800.0)
    over = heat.keeper.picture()
    assert over.first_order is None
    assert over.alarms
    lines = screen(over, 80, 24)
    assert not stands("LOWER THE HEAT", lines)
    assert stands("drying", lines)
    assert any(line.plain.lstrip(" 1").startswith("ENDED") for line in lines)
    heat.say(CommandName.ACKNOWLEDGE)
    assert [band.style for band in large_bands(heat.keeper.picture(), 79, 24, 12)] == ["", ""]


def test_a_band_fills_its_rows_to_the_end() -> None:
    """The order's ground reaches across the screen: it is found by its colour, or in reverse, before it is read."""
    band = LargeBand(("CLOSE", "THE LID"), 1, "high")
    drawn = band.draw(Looks(), 40)
    assert len(drawn) == band.rows == 7
    assert all(len(line.plain) == 40 for line in drawn)


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (100, 30)])
def test_what_spoke_against_the_heat_at_its_start_is_read_whole(size: tuple[int, int]) -> None:
    """It vanished within seconds and was cut at 80 columns; now all else makes room until it is acknowledged."""
    said = "sheet: ramp 1 climbs 120 K/h and the maker allows 100; what would help: a slower ramp; " * 3
    heat = PicturedHeat().climb(21.0, 10.0)
    heat.note_news(NoticeName.START_WARNING, text=said.strip())
    heat.show()
    text = " ".join(" ".join(line.plain for line in screen(heat.keeper.picture(), *size)).split())
    assert said.strip() in text
    heat.say(CommandName.ACKNOWLEDGE)
    assert "the maker allows" not in " ".join(line.plain for line in screen(heat.keeper.picture(), *size))
