"""The reach: when the bell is needed, when it is an alarm, and what is said."""

import pytest

from rampwarden.outputs.mqtt.reachability import Reachability, ReachState

QUIET = ReachState(bell=False)


def up() -> Reachability:
    """Give a reach with a link."""
    reach = Reachability(0.0)
    reach.link_up()
    return reach


def judge(
    reach: Reachability, now_s: float, unanswered_s: float | None = None, alarm_s: float | None = None
) -> ReachState:
    """Judge at a broker called 'shop:1883'."""
    return reach.judge(now_s, unanswered_s, alarm_s, "shop:1883")


def test_before_the_first_connection_the_bell_rings_and_after_a_while_it_is_an_alarm() -> None:
    """Nobody is reached until somebody is."""
    reach = Reachability(100.0)
    assert judge(reach, 100.0) == ReachState(bell=True)
    assert judge(reach, 106.9) == ReachState(bell=True)
    assert judge(reach, 107.0).lost == "no link to shop:1883 for 7 s: not connected yet"


def test_a_lost_link_counts_from_when_it_was_lost_and_gives_the_latest_reason() -> None:
    """Each failed attempt tells more; none starts the clock again."""
    reach = up()
    assert judge(reach, 50.0) == QUIET
    reach.link_down("the connection ended", 50.0)
    assert judge(reach, 50.0) == ReachState(bell=True)
    reach.link_down("Connection refused", 55.0)
    assert judge(reach, 57.0).lost == "no link to shop:1883 for 7 s: Connection refused"
    reach.link_up()
    assert judge(reach, 58.0) == QUIET


def test_silence_within_ten_seconds_is_an_alarm_and_a_waiting_alarm_rings_sooner() -> None:
    """A cut cable reports nothing: only the missing answers show it."""
    reach = up()
    assert judge(reach, 102.9, unanswered_s=100.0) == QUIET
    assert judge(reach, 103.1, unanswered_s=100.0, alarm_s=100.0) == ReachState(bell=True)
    assert judge(reach, 106.9, unanswered_s=100.0) == QUIET
    assert judge(reach, 107.1, unanswered_s=100.0) == ReachState(bell=True, lost="shop:1883 has not answered for 7 s")


def test_a_refusal_stands_until_the_topic_is_taken_or_another_connection_is_made() -> None:
    """Another topic that is taken proves nothing."""
    reach = up()
    assert reach.refused("alarm/event", "Not authorized", alarms=True)
    assert not reach.refused("alarm/event", "Not authorized", alarms=True)
    assert judge(reach, 1.0).lost == "shop:1883 refuses alarm/event: Not authorized"
    reach.accepted("probe/temperature")
    assert judge(reach, 1.0).bell
    reach.accepted("alarm/event")
    assert judge(reach, 1.0) == QUIET
    reach.refused("alarm/event", "Not authorized", alarms=True)
    reach.link_up()
    assert judge(reach, 1.0) == QUIET


def test_a_refused_answer_to_a_command_says_nothing_of_our_reach() -> None:
    """Somebody asked for an answer where we may not write."""
    reach = up()
    assert reach.refused("answers/somebody", "Not authorized", alarms=False)
    assert judge(reach, 1.0) == QUIET


@pytest.mark.parametrize("about_reach", [True, False])
def test_somebody_who_hears_anything_ends_being_unheard(*, about_reach: bool) -> None:
    """Whichever alarm it was."""
    reach = up()
    reach.alarm_answered(heard=False, about_reach=False)
    assert judge(reach, 1.0).lost == "nobody has subscribed to this furnace's alarms at shop:1883"
    reach.alarm_answered(heard=True, about_reach=about_reach)
    assert judge(reach, 1.0) == QUIET


def test_the_news_of_being_unheard_cannot_raise_itself() -> None:
    """Else each broker-unreachable would be followed by another."""
    reach = up()
    reach.alarm_answered(heard=False, about_reach=True)
    assert judge(reach, 1.0) == QUIET


def test_staying_away_on_purpose_is_an_alarm_at_once() -> None:
    """There is nothing to wait for."""
    reach = up()
    reach.hold("another client uses the id furnace-1?")
    assert judge(reach, 0.0) == ReachState(bell=True, lost="another client uses the id furnace-1?")
    reach.link_up()
    assert judge(reach, 1.0) == QUIET
