"""Subscriptions that nothing is heard without: asked for again, ever more seldom, until they are granted."""

from typing import cast

from rampwarden.outputs.mqtt.hearing import Hearing
from rampwarden.outputs.mqtt.link import Link


class Noted:
    """A link that notes what is asked of it, and numbers it."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, ...]] = []

    def subscribe(self, topics: list[str], *, qos: int = 1, kept: bool = True) -> int:
        self.asked.append((*topics, f"qos {qos}", f"kept {kept}"))
        return len(self.asked)


def hearing() -> tuple[Hearing, Noted, Link]:
    noted = Noted()
    return Hearing(), noted, cast(Link, noted)


def test_what_is_refused_is_asked_for_again_after_ever_longer_waits() -> None:
    """Half a minute is the longest."""
    hears, noted, link = hearing()
    hears.ask(link, ["a", "b"], 0.0, qos=0, kept=False)
    now_s, waits = 0.0, []
    for number in range(1, 9):
        assert hears.refused(number, now_s)
        refused_s = now_s
        while len(noted.asked) == number:
            now_s += 0.25
            hears.step(link, now_s)
        waits.append(now_s - refused_s)
    assert waits == [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 30.0, 30.0]
    assert set(noted.asked) == {("a", "b", "qos 0", "kept False")}
    assert hears.is_deaf
    assert hears.granted(9)
    assert not hears.is_deaf


def test_a_request_without_an_answer_is_made_again() -> None:
    """It is no refusal, so nobody is told that it was."""
    hears, noted, link = hearing()
    hears.ask(link, ["a"], 0.0)
    hears.step(link, 9.9)
    assert len(noted.asked) == 1
    hears.step(link, 10.0)
    assert len(noted.asked) == 2
    assert not hears.is_deaf
    assert not hears.granted(2)
    hears.step(link, 100.0)
    assert len(noted.asked) == 2


def test_everything_is_heard_again_only_when_the_last_refusal_is_over() -> None:
    """And a wish that is made anew takes the place of the earlier one."""
    hears, noted, link = hearing()
    hears.ask(link, ["a"], 0.0)
    hears.ask(link, ["b"], 0.0)
    assert hears.refused(1, 0.0)
    assert hears.refused(2, 0.0)
    assert not hears.refused(7, 0.0)
    hears.ask(link, ["a"], 0.1, qos=0)
    hears.step(link, 0.5)
    assert [asked[0] for asked in noted.asked] == ["a", "b", "a", "b"]
    assert not hears.granted(3)
    assert hears.granted(4)


def test_a_new_connection_begins_with_nothing() -> None:
    """What an earlier one refused is void."""
    hears, noted, link = hearing()
    hears.ask(link, ["a"], 0.0)
    hears.refused(1, 0.0)
    hears.begin()
    hears.step(link, 100.0)
    assert (len(noted.asked), hears.is_deaf) == (1, False)
