"""What is ordered while several alarms stand: one thing first, and never two that contradict each other."""

from itertools import combinations, product

import pytest
from msgspec.structs import replace

from rampwarden.core.alarm_entry import AlarmEntry
from rampwarden.core.alarms.desk import AlarmDesk
from rampwarden.core.alarms.first_order import with_first_order
from rampwarden.core.catalogue import CATALOGUE, ENTRIES
from rampwarden.core.model import AlarmState, Finding, StandingAlarm
from rampwarden.core.short_orders import CONTRADICTING, LONGEST_ORDER, Ask, ShortOrder


def short_orders(entry: AlarmEntry) -> tuple[ShortOrder, ...]:
    """Give every order an alarm may carry; some of them are none."""
    return entry.short_order, entry.short_order_below, entry.short_order_in_doubt, entry.short_order_milder


def forms(entry: AlarmEntry) -> list[StandingAlarm]:
    """Give an alarm as it may stand: with each order it may carry, found now or gone a while ago."""
    orders = dict.fromkeys(short_orders(entry))
    return [
        StandingAlarm(
            entry.name,
            AlarmState.UNACKNOWLEDGED,
            entry.priority,
            "it is",
            1.0,
            "do it",
            order=str(order),
            gone_s=gone_s,
        )
        for order in orders
        if order
        for gone_s in (None, 5.0)
    ]


def orders_of(alarms: tuple[StandingAlarm, ...]) -> list[ShortOrder]:
    return [ShortOrder(alarm.order) for alarm in alarms if alarm.order]


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.name)
def test_no_two_alarms_order_what_contradicts(entry: AlarmEntry) -> None:
    """Every pair of alarms there is, in each form they may stand in: what stays goes together, and one comes first."""
    for pair in product(forms(entry), (form for other in ENTRIES[: ENTRIES.index(entry)] for form in forms(other))):
        told = with_first_order(pair)
        kept = orders_of(told)
        assert not any(one.contradicts(other) for one, other in combinations(kept, 2))
        assert sum(alarm.is_first for alarm in told) == 1
        # One is withheld exactly where both cannot be told, and says which comes first; its long form goes with it.
        must_yield = ShortOrder(pair[0].order).contradicts(ShortOrder(pair[1].order))
        yielding = [alarm for alarm in told if alarm.yields_to]
        assert [bool(alarm.action) for alarm in told] == [bool(alarm.order) for alarm in told]
        assert len(yielding) == must_yield
        for alarm in yielding:
            assert alarm.yields_to in {each.alarm for each in told} - {alarm.alarm}


def test_every_alarm_has_an_order_of_twenty_letters() -> None:
    """In each case that it may stand in; and every order is some alarm's."""
    for entry in ENTRIES:
        assert entry.short_order, entry.name
        assert bool(entry.short_order_in_doubt) == bool(entry.action_in_doubt), entry.name
        assert bool(entry.short_order_milder) == bool(entry.action_milder), entry.name
    assert all(len(order) <= LONGEST_ORDER and order == order.upper() for order in ShortOrder)
    used = {order for entry in ENTRIES for order in short_orders(entry)}
    assert used == set(ShortOrder)


def test_the_table_of_pairs_is_of_pairs_and_reaches_every_ask() -> None:
    """A pair of one, or an ask that nothing asks, would be a slip."""
    assert all(len(pair) == 2 for pair in CONTRADICTING)
    assert {ask for order in ShortOrder for ask in order.asks} == set(Ask)
    assert {ask for pair in CONTRADICTING for ask in pair} == set(Ask)


def test_the_safer_order_stays_and_heat_is_asked_for_last() -> None:
    """Whatever the priorities are: who may have no flame must not open the valve."""
    desk = AlarmDesk(CATALOGUE)
    found = {
        "ramp-low": Finding(1.0, 12.0, "°C/min", "1 °C/min, at least 12 wanted"),
        "heat-failing": Finding(None, None, None, "the climb dies away"),
    }
    desk.judge(0.0, tuple(found), found)
    desk.judge(70.0, tuple(found), found)
    low, failing = (next(a for a in desk.standing() if a.alarm == name) for name in found)
    assert (failing.order, failing.is_first) == ("LOOK AT THE FLAME", True)
    assert (low.order, low.action, low.yields_to) == ("", "", "heat-failing")


def test_what_is_gone_gives_way_to_what_is_found_now() -> None:
    """An alarm that only waits for its off-delay must not hold back the order that is needed."""
    gone = StandingAlarm("ramp-high", AlarmState.UNACKNOWLEDGED, CATALOGUE["ramp-high"].priority, "", 1.0, "less")
    now = StandingAlarm("ramp-low", AlarmState.UNACKNOWLEDGED, CATALOGUE["ramp-low"].priority, "", 90.0, "more")
    pair = (replace(gone, order="LOWER THE HEAT", gone_s=80.0), replace(now, order="RAISE THE HEAT"))
    assert [(each.order, each.is_first) for each in with_first_order(pair)] == [("", False), ("RAISE THE HEAT", True)]


def test_a_soak_is_brought_back_from_the_side_it_has_left() -> None:
    """The same alarm asks for less heat above its band and for more below it."""
    entry = CATALOGUE["soak-deviation"]
    assert entry.order_in_short(Finding(725.0, 720.0, "°C", ""), in_doubt=False) is ShortOrder.EASE_HEAT
    assert entry.order_in_short(Finding(675.0, 680.0, "°C", ""), in_doubt=False) is ShortOrder.RAISE_HEAT
    assert entry.order_in_short(Finding(675.0, 680.0, "°C", ""), in_doubt=True) is ShortOrder.CHECK_PROBE
