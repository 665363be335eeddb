"""When a broker is tried again: longer waits, a little chance, the next of the list, and a rival recognised."""

import random

from rampwarden.outputs.mqtt.back_off import BackOff
from rampwarden.outputs.mqtt.broker import BrokerAddress
from rampwarden.outputs.mqtt.reachability import SILENCE_S

ONE, TWO = BrokerAddress("one", 1883), BrokerAddress("two", 1883)


def test_waits_double_up_to_four_seconds_with_a_fifth_of_chance() -> None:
    """A hundred furnaces must not come back at once, and a broker that returns is found within 5 s."""
    back_off = BackOff([ONE], random.Random(1))
    waits = []
    for _ in range(8):
        back_off.failed(100.0)
        waits.append(back_off.wait_s(100.0))
    for wait, usual in zip(waits, [0.5, 1, 2, 4, 4, 4, 4, 4], strict=True):
        assert 0.8 * usual <= wait <= 1.2 * usual
    assert len(set(waits)) == 8
    assert not back_off.is_due(100.0)
    assert back_off.is_due(104.9)


def test_every_broker_of_the_list_is_asked_before_waiting() -> None:
    """A cluster has several doors, and one of them may be open."""
    back_off = BackOff([ONE, TWO], random.Random(1))
    assert back_off.address == ONE
    back_off.failed(100.0)
    assert (back_off.address, back_off.is_due(100.0)) == (TWO, True)
    back_off.failed(100.0)
    assert (back_off.address, back_off.is_due(100.0)) == (ONE, False)


def test_a_connection_that_lasted_starts_the_waits_over_and_stays_with_its_broker() -> None:
    """A real connection that broke is no reason for suspicion."""
    back_off = BackOff([ONE, TWO], random.Random(1))
    for _ in range(9):
        back_off.failed(50.0)
    assert back_off.address == TWO
    back_off.connected(100.0)
    assert not back_off.lost(110.0, taken_over=False)
    assert back_off.address == TWO
    assert back_off.wait_s(110.0) < 0.7


def test_three_short_connections_in_a_row_may_be_a_rival_and_are_no_reason_to_keep_away() -> None:
    """Two with one id throw each other out for ever; but so may a broker, and an alarm must not wait for a minute."""
    back_off = BackOff([ONE], random.Random(1))
    verdicts = []
    for moment in (100.0, 105.0, 110.0):
        back_off.connected(moment)
        verdicts.append(back_off.lost(moment + 1.0, taken_over=False))
    assert verdicts == [False, False, True]
    assert back_off.wait_s(111.0) < 5.0


def test_a_broker_that_says_we_were_taken_over_is_believed_at_once_and_kept_away_from() -> None:
    """Version 5 has a word for it, though not every broker says it."""
    back_off = BackOff([ONE], random.Random(1))
    back_off.connected(100.0)
    assert back_off.lost(200.0, taken_over=True)
    assert 48.0 <= back_off.wait_s(200.0) <= 72.0


def test_short_connections_with_failed_attempts_between_them_are_a_broker_that_restarts() -> None:
    """While a rival is in the way the broker itself is there all the time."""
    back_off = BackOff([ONE], random.Random(1))
    for moment in (100.0, 105.0, 110.0, 115.0):
        back_off.connected(moment)
        assert not back_off.lost(moment + 1.0, taken_over=False)
        back_off.failed(moment + 2.0)


def test_attempts_that_fail_are_never_taken_for_a_rival() -> None:
    """A broker that is away is away."""
    back_off = BackOff([ONE], random.Random(1))
    assert not any(back_off.failed(float(n)) for n in range(20))


def test_the_older_version_is_tried_with_the_broker_that_asked_for_it() -> None:
    """Not with the next of the list."""
    back_off = BackOff([ONE, TWO], random.Random(1))
    back_off.use_old_version()
    back_off.failed(100.0)
    assert (back_off.address, back_off.old_version) == (ONE, True)


def test_a_silent_broker_is_left_for_the_next_at_once_where_there_is_one() -> None:
    """No later than somebody is told; when all are silent in turn it is the load, and they are given time."""
    back_off = BackOff([ONE, TWO], random.Random(1))
    assert back_off.patience_s == SILENCE_S
    back_off.silent(100.0)
    assert (back_off.address, back_off.is_due(100.0)) == (TWO, True)
    assert back_off.patience_s == 15.0
    back_off.answered()
    assert back_off.patience_s == SILENCE_S
    back_off.failed(110.0)
    back_off.failed(120.0)
    assert back_off.address == TWO
    back_off.failed(130.0)
    assert (back_off.address, back_off.is_due(130.0)) == (ONE, False)
    back_off.silent(140.0)
    back_off.silent(150.0)
    assert back_off.address == ONE
    assert BackOff([ONE], random.Random(1)).patience_s == 15.0


def test_on_one_that_hangs_up_twice_the_older_version_is_tried_once() -> None:
    """Some brokers have no other word for it; and one that is but starting is spoken to in version 5 in the end."""
    back_off = BackOff([ONE], random.Random(1))
    tried = []
    for _ in range(6):
        tried.append(back_off.old_version)
        back_off.hung_up()
    assert tried == [False, False, True] * 2
    back_off.hung_up()
    back_off.hung_up()
    back_off.connected(100.0)
    assert back_off.old_version
    back_off.lost(200.0, taken_over=False)
    assert not back_off.old_version
    back_off.hung_up()
    assert back_off.old_version
