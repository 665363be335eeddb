"""The overview: who stands on top, what is said of a furnace in a row, and for whom the bell rings."""

import io
import json

import pytest
from rich.console import Console

from rampwarden.core.model import AlarmState, Event, Priority
from rampwarden.outputs.mqtt import ArrivedMessage
from rampwarden.shop.furnaces import VALUES, Furnace, Shop
from rampwarden.shop.listener import CommandAnswer, LinkChange
from rampwarden.shop.said_words import Standing
from rampwarden.shop.shop_bell import ShopBell
from rampwarden.shop.views import draw, in_order, line_of, overview

# What a stranger may try: colours, the bell, a window's title, marks of direction, line breaks of every kind.
EVIL = "\x1b[31m\x07\x1b]0;x\x9b2J\u202e\u2028\r\n[bold]red"


def furnace(number: int, *alarms: Standing, state: str = "ready", heard_s: float = 100.0) -> Furnace:
    """Give a furnace as a listener knows it."""
    values = {
        "probe/temperature": "231.4",
        "probe/ramp": "142.0",
        "schedule/ramp-highest": "100.0",
        "schedule/segment": "drying",
        "schedule/segment-number": "1",
        "schedule/segment-count": "4",
        "schedule/to-next": "PT1H30M",
    }
    base = f"homie/5/furnace-{number:03}"
    return Furnace(
        base, base[8:], state, is_furnace=True, values=values, alarms=alarms, heard_s=heard_s, temp_s=heard_s
    )


def high(state: AlarmState = AlarmState.UNACKNOWLEDGED, priority: Priority = Priority.HIGH) -> Standing:
    """Give an alarm."""
    return Standing("ramp-high", state, priority, "142 °C/h over 15 min, limit 100")


def drawn(
    *furnaces: Furnace, height: int = 30, now_s: float = 101.0, width: int = 160, search: str = "", chosen: str = ""
) -> str:
    """Draw, as plain text on a wide terminal."""
    console = Console(width=width, record=True, file=io.StringIO())
    shown = overview(furnaces, now_s, height, search, chosen)
    console.print(draw(shown, now_s, width, "a title", "a last word", chosen, "something is missing"))
    return console.export_text()


def test_a_row_says_everything_that_matters_at_one_furnace() -> None:
    """Temperature, ramp and what is allowed, segment, time left, alarm, age."""
    text = drawn(furnace(1, high()))
    for part in ("furnace-001", "231", "+142 °C/h (at most +100)", "drying (1 of 4)", "1 h 30 min", "ramp-high · 142"):
        assert part in text
    assert "1 s" in text
    assert "a title" in text
    assert "a last word" in text
    assert "something is missing" in text


def test_an_alarm_shows_its_state_only_once_it_is_no_longer_unacknowledged() -> None:
    """A row is short: what waits for somebody says so by standing there."""
    assert "NEW" not in drawn(furnace(1, high()))
    assert "ACKNOWLEDGED ramp-high" in drawn(furnace(1, high(AlarmState.ACKNOWLEDGED)))
    over = high(AlarmState.RETURNED_UNACKNOWLEDGED)
    assert "ENDED ramp-high" in drawn(furnace(1, over))


def test_of_several_alarms_a_row_names_the_most_urgent_that_waits_and_counts_the_rest() -> None:
    """In whatever order the broker brought them: what waits before what was acknowledged, then the highest priority."""
    low = Standing("ramp-forecast", AlarmState.UNACKNOWLEDGED, Priority.LOW, "soon too fast")
    medium = Standing("not-heating", AlarmState.UNACKNOWLEDGED, Priority.MEDIUM, "it should climb")
    taken = high(AlarmState.ACKNOWLEDGED)
    for alarms in ((low, medium, taken), (taken, medium, low), (medium, taken, low)):
        assert "not-heating · it should climb +2" in drawn(furnace(1, *alarms))


@pytest.mark.parametrize("width", [60, 80, 100])
def test_on_a_narrow_terminal_words_give_way_and_figures_do_not(width: int) -> None:
    """Which furnace, how hot, which alarm, and how old all that is."""
    text = drawn(furnace(1, high()), width=width)
    for part in ("furnace-001", " 231 ", "+142", "ramp-high", " 1 s"):
        assert part in text
    assert max(map(len, text.splitlines())) <= width


def test_who_needs_somebody_stands_on_top() -> None:
    """Missing first, then unacknowledged by priority, then acknowledged, then the quiet ones."""
    quiet, acknowledged = furnace(1), furnace(2, high(AlarmState.ACKNOWLEDGED))
    medium, urgent = furnace(3, high(priority=Priority.MEDIUM)), furnace(4, high())
    lost, silent = furnace(5, state="lost"), furnace(6, heard_s=60.0)
    order = in_order([quiet, acknowledged, medium, urgent, lost, silent], 101.0)
    assert [each.device[-1] for each in order] == ["5", "6", "4", "3", "2", "1"]


def test_what_does_not_fit_is_counted_and_never_an_alarm() -> None:
    """A hundred furnaces on a small screen: the one with the alarm is on it."""
    text = drawn(*(furnace(number) for number in range(99)), furnace(500, high()), height=20)
    assert "furnace-500" in text
    assert "88 more after these" in text
    assert "somebody" not in text
    assert len(text.splitlines()) <= 20


def test_a_few_letters_of_its_name_or_id_find_a_furnace() -> None:
    """Capitals do not matter; whoever needs somebody and is not found is counted all the same."""
    crowd = [*(furnace(number) for number in range(99)), furnace(500, high()), furnace(501, high())]
    crowd[7].name = "Große Glocke"
    text = drawn(*crowd, search="glocke")
    assert "furnace-007 (Große" in text
    assert "furnace-008" not in text
    assert "2 not shown need somebody" in text
    text = drawn(*crowd, search="ce-50")
    assert "furnace-500" in text
    assert "furnace-050" not in text
    assert "somebody" not in text
    assert "1 not shown needs somebody" in drawn(*crowd, search="501")


def test_the_row_that_is_chosen_is_always_in_view_and_who_needs_somebody_stays_on_top() -> None:
    """However far down somebody goes; the rest is counted."""
    crowd = [furnace(500, high()), *(furnace(number) for number in range(99))]
    text = drawn(*crowd, height=20, chosen="homie/5/furnace-050")
    for shown, name in ((True, "500"), (False, "039"), (True, "040"), (True, "050"), (False, "051")):
        assert (f"furnace-{name}" in text) is shown
    assert "40 more before these · 48 more after these\n" in text
    assert "furnace-500" in drawn(*crowd, height=20, chosen="homie/5/gone")


def test_many_that_need_somebody_leave_room_for_the_row_that_is_chosen() -> None:
    """Half of the lines are theirs."""
    crowd = [*(furnace(number, high()) for number in range(50)), *(furnace(number) for number in range(50, 99))]
    text = drawn(*crowd, height=20, chosen="homie/5/furnace-080")
    for shown, name in ((True, "000"), (True, "005"), (False, "006"), (False, "074"), (True, "075"), (True, "080")):
        assert (f"furnace-{name}" in text) is shown
    assert "69 more before these · 18 more after these · 44 not shown need somebody" in text


def test_a_furnace_that_says_nothing_any_more_is_shown_as_missing() -> None:
    """Its last number is not shown as if it were of now."""
    assert "no word from it" in drawn(furnace(1, heard_s=60.0))
    assert "no word from it" in drawn(furnace(1, state="lost"))
    ended = drawn(furnace(1, state="disconnected"))
    assert "disconnected" in ended
    assert not any(part in ended for part in ("231", "+142", "drying", "1 h 30 min"))


def test_text_from_a_broker_cannot_steer_the_terminal() -> None:
    """Names, values, states, alarms and events come from somebody else's computer, and so do answers and errors."""
    shop = Shop()
    shop.take(ArrivedMessage("homie/5/furnace-1/$state", b"ready", retained=True), 100.0)
    shop.devices[0].is_shown = True
    properties = {"probe": {"properties": {"temperature": {}}}, "alarm": {"properties": {"standing": {}}}}
    alarm = {"alarm": EVIL, "state": EVIL, "priority": EVIL, "text": EVIL, "action": EVIL}
    said = {
        "$state": EVIL,
        "$description": json.dumps({"name": EVIL, "nodes": properties}),
        "alarm/standing": json.dumps([alarm]),
        "alarm/event": json.dumps({**alarm, "alarm": "ramp-high"}),
        "heat/event": json.dumps({"text": EVIL}),
        **dict.fromkeys(VALUES, EVIL),
    }
    lines = [
        line_of(change)
        for path, text in said.items()
        for change in shop.take(ArrivedMessage(f"homie/5/furnace-1/{path}", text.encode(), retained=False), 100.0)
    ]
    lines += [line_of(LinkChange(False, EVIL)), line_of(CommandAnswer(EVIL))]
    text = drawn(*shop.furnaces)
    assert "[bold]red" in text
    assert sum("[bold]red" in line for line in lines) >= 5
    assert [letter for letter in "".join([text, *lines]) if not letter.isprintable() and letter != "\n"] == []
    assert not any("\n" in line for line in lines)


def test_figures_no_furnace_could_say_are_no_figures() -> None:
    """Four hundred digits, infinity, superscripts: nothing of them is shown, and nothing breaks."""
    for figure in ("1e300", "inf", "nan", "9" * 400, "²"):
        evil = furnace(1)
        evil.values |= dict.fromkeys(("probe/temperature", "probe/ramp", "schedule/ramp-highest"), figure)
        for duration in (f"PT{figure}H", f"PT{figure}", "PT", f"PT1H{figure}M"):
            evil.values["schedule/to-next"] = duration
            assert not any(part in drawn(evil) for part in (figure, "inf", "nan", "h ", "99999"))


def test_an_alarm_that_does_not_wait_for_anybody_needs_nobody() -> None:
    """Acknowledged ones are listed, and not counted among those that need somebody."""
    text = drawn(furnace(1), furnace(2, high(AlarmState.ACKNOWLEDGED)), search="001")
    assert "somebody" not in text


class Rung:
    """A bell that notes what it was told."""

    def __init__(self) -> None:
        self.told: list[tuple[str, str, str]] = []
        self.bell = ShopBell(self._take)

    def look(self, *furnaces: Furnace, now_s: float = 101.0, trouble: str = "") -> list[tuple[str, str, str]]:
        """Look; gives what the bell was told by it, sorted."""
        self.told.clear()
        self.bell.look(furnaces, now_s, trouble)
        return sorted(self.told)

    def _take(self, event: Event) -> None:
        self.told.append((str(event.alarm), str(event.state), str(event.priority)))


def test_the_bell_hears_of_each_change_once() -> None:
    """Raised, acknowledged, over; the same alarm at two furnaces is two alarms."""
    rung = Rung()
    assert rung.look(furnace(1, high()), furnace(2, high())) == [
        ("homie/5/furnace-001 ramp-high", "unacknowledged", "high"),
        ("homie/5/furnace-002 ramp-high", "unacknowledged", "high"),
    ]
    assert rung.look(furnace(1, high()), furnace(2, high())) == []
    assert rung.look(furnace(1, high(AlarmState.ACKNOWLEDGED)), furnace(2)) == [
        ("homie/5/furnace-001 ramp-high", "acknowledged", "high"),
        ("homie/5/furnace-002 ramp-high", "normal", "low"),
    ]


@pytest.mark.parametrize("missing", [furnace(1, state="lost"), furnace(1, heard_s=60.0)])
def test_the_bell_rings_for_a_furnace_that_has_fallen_silent(missing: Furnace) -> None:
    """It cannot ring itself any more."""
    rung = Rung()
    assert rung.look(missing) == [("homie/5/furnace-001 missing", "unacknowledged", "high")]
    assert rung.look(furnace(1)) == [("homie/5/furnace-001 missing", "normal", "low")]


def test_the_bell_rings_when_the_listener_hears_nobody() -> None:
    """Silence would look like peace."""
    assert Rung().look(trouble="hearing nobody: refused") == [("no broker", "unacknowledged", "high")]


def test_a_furnace_that_ended_cleanly_is_no_reason_to_ring() -> None:
    """Its last alarms went with it."""
    rung = Rung()
    rung.look(furnace(1, high()))
    assert rung.look(furnace(1, high(), state="disconnected")) == [("homie/5/furnace-001 ramp-high", "normal", "low")]


def test_while_nobody_is_heard_no_furnace_is_called_missing_for_it() -> None:
    """Five thousand rings would say less than one; what was missing before stays so."""
    rung = Rung()
    rung.look(furnace(1, state="lost"), furnace(2))
    crowd = (furnace(1, state="lost"), furnace(2, heard_s=60.0))
    assert rung.look(*crowd, trouble="hearing nobody") == [("no broker", "unacknowledged", "high")]
