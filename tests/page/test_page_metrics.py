"""`/metrics`: figures in the OpenMetrics text form, for whoever has the token to read; off unless it is asked for."""

from collections.abc import Callable, Iterator

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from tests.page.served_page import READ_TOKEN, Served, rules, wait_until

from rampwarden.core.model import AlarmState, Priority, StandingAlarm
from rampwarden.page.server import ListenAddress


def served_with(read_token: str, *, has_metrics: bool = True) -> Served:
    place = ListenAddress("127.0.0.1", 0, None, is_behind_proxy=False, has_metrics=has_metrics)
    return Served(rules(read_token), place)


@pytest.fixture
def serve() -> Iterator[Callable[..., Served]]:
    """Give a function that serves a page, with figures unless they are switched off."""
    pages: list[Served] = []

    def make(read_token: str = READ_TOKEN, *, has_metrics: bool = True) -> Served:
        pages.append(served_with(read_token, has_metrics=has_metrics))
        return pages[-1]

    yield make
    for page in pages:
        page.close()


def figures(page: Served) -> dict[tuple[str, str], float]:
    """Give each sample by its name and its first label's value."""
    answer = page.ask(path="/metrics", authorization=f"Bearer {READ_TOKEN}")
    assert answer.status == 200
    assert answer.headers["content-type"].startswith("application/openmetrics-text")
    return {
        (sample.name, next(iter(sample.labels.values()), "")): sample.value
        for family in text_string_to_metric_families(answer.body.decode())
        for sample in family.samples
    }


def test_what_the_watch_shows_is_told_as_figures(serve: Callable[..., Served]) -> None:
    """And a strict reader of the form takes it."""
    page = serve()
    alarm = StandingAlarm("ramp-high", AlarmState.ACKNOWLEDGED, Priority.HIGH, "too fast", 3.0)
    page.heat.alarms = (alarm,)
    page.heat.read(321.0)
    told = figures(page)
    assert told["rampwarden_temperature_celsius", ""] == 321.0
    assert told["rampwarden_alarms", "acknowledged"] == 1.0
    assert told["rampwarden_alarms", "unacknowledged"] == 0.0
    assert told["rampwarden_alarm", "ramp-high"] == 1.0
    assert told["rampwarden_alarm", "signal-lost"] == 0.0
    assert 0.0 <= told["rampwarden_reading_age_seconds", ""] < 60.0
    assert told["rampwarden_lost_frames_total", ""] == 0.0
    assert told["rampwarden_disk_free_bytes", ""] > 0.0


def test_who_has_no_token_is_told_nothing(serve: Callable[..., Served]) -> None:
    """Neither without one nor with a wrong one; the page's own cookie reads too."""
    page = serve()
    for headers in ({}, {"authorization": "Bearer wrong"}, {"authorization": f"Basic {READ_TOKEN}"}):
        answer = page.ask(path="/metrics", **headers)
        assert answer.status == 401
        assert b"rampwarden_" not in answer.body
    cookie = page.log_in(READ_TOKEN).cookie
    assert page.ask(path="/metrics", cookie=cookie).status == 200


def test_wrong_tokens_are_slowed_here_as_at_the_login(serve: Callable[..., Served]) -> None:
    """Guessing goes no faster by this door; the right one is let in all the same."""
    page = serve()
    statuses = [page.ask(path="/metrics", authorization=f"Bearer wrong {number}").status for number in range(6)]
    assert statuses == [401] * 5 + [429]
    assert page.ask(path="/metrics", authorization=f"Bearer {READ_TOKEN}").status == 200


def test_without_being_asked_for_there_are_no_figures(serve: Callable[..., Served]) -> None:
    """Whoever is let in finds nothing there."""
    page = serve("", has_metrics=False)
    wait_until(lambda: page.ask().status == 200, "the page")
    assert page.ask(path="/metrics").status == 404
