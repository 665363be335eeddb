"""What is told to a page: everything at first, then what has changed; nothing that stands is ever passed over."""

import asyncio
import json
import time
from collections.abc import Coroutine

import msgspec
import pytest
from msgspec.json import decode
from tests.page.served_page import Heat

from rampwarden.core.model import AlarmState, PotReadiness, ProbeStatus, Quality
from rampwarden.page.messages import PictureTeller
from rampwarden.page.stream import MOST_SEATS, Seat, Stream
from rampwarden.picture.picture import Mode


def told(message: bytes | None) -> tuple[str, dict[str, object]]:
    """Give a message's name and what it says."""
    assert message is not None
    name, data, *rest = message.decode().split("\n")
    assert rest == ["", ""], "one line of data, or a page would take it for two messages"
    decoded = json.loads(data.removeprefix("data: "))
    return name.removeprefix("event: "), decoded


def parts(message: bytes | None) -> dict[str, object]:
    """Give the parts of the picture that a message tells."""
    picture = told(message)[1]["picture"]
    assert isinstance(picture, dict)
    return picture


# Messages


def test_the_first_message_is_the_whole_picture() -> None:
    """With everything a page shows, and what the heat is called."""
    heat = Heat()
    heat.read(20.5)
    name, said = told(PictureTeller(heat.keeper.picture).change())
    assert name == "whole"
    picture = said["picture"]
    assert isinstance(picture, dict)
    assert picture["about"]["title"] == "A first heat"
    assert picture["status"]["temp_c"] == 20.5
    assert picture["course"] == [[1.0, 20.5, None, 45.5]]
    assert picture["present"]["say"] == "Door ajar while it mists."
    assert [each["event"] for each in picture["happenings"]] == ["segment-started"]


def test_the_phase_and_the_time_kept_come_in_words_and_at_the_end_what_the_pot_is_ready_for() -> None:
    """A page says them as the terminal does; before the end nothing is promised."""
    heat = Heat()
    heat.read(20.5)
    teller = PictureTeller(heat.keeper.picture)
    picture = parts(teller.change())
    assert (picture["doing"], picture["kept"]) == ("ramping", "")
    assert picture["status"]["readiness"] is None  # type: ignore[index]
    ready = PotReadiness("dry-it-first", "Dry it first.", ("It was stored damp.",))
    heat.keeper.show(msgspec.structs.replace(heat.keeper.picture().status, readiness=ready))
    status = parts(teller.change())["status"]
    assert status["readiness"] == decode(msgspec.json.encode(ready))  # type: ignore[index]


def test_a_change_tells_only_what_is_new() -> None:
    """New points and happenings once; nothing that is as it was."""
    heat = Heat()
    heat.read(20.0)
    teller = PictureTeller(heat.keeper.picture)
    teller.change()
    heat.follow(21.0)
    heat.note("gas at 0.04 bar")
    change = parts(teller.change())
    assert [point[0] for point in change["course"]] == [2.0]  # type: ignore[attr-defined]
    assert [each["text"] for each in change["happenings"]] == ["gas at 0.04 bar"]  # type: ignore[attr-defined]
    assert not {"about", "present", "coming", "health", "alarms"} & change.keys()
    assert teller.change() is None


def test_changes_put_together_are_the_whole() -> None:
    """Whoever has heard every change knows what a newcomer is told."""
    heat = Heat()
    heat.read(20.0)
    teller = PictureTeller(heat.keeper.picture)
    kept = parts(teller.change())
    for number in range(50):
        heat.read(20.0 + number)
        if number % 10 == 0:
            heat.alarm("ramp-high", AlarmState.UNACKNOWLEDGED if number % 20 else AlarmState.NORMAL)
            heat.note(f"number {number}")
        change = parts(teller.change())
        course, happenings = change.pop("course", []), change.pop("happenings", [])
        kept = kept | change
        kept["happenings"] = kept["happenings"] + happenings  # type: ignore[operator]
        last = course[-1] if course else None  # type: ignore[index]
    whole = parts(teller.whole())
    newest = whole.pop("course")[-1]  # type: ignore[attr-defined]
    kept.pop("course")
    assert kept == whole
    assert newest == last


def test_a_replay_that_goes_back_is_told_anew() -> None:
    """Nothing told before holds."""
    heat = Heat(Mode.REPLAY)
    for number in range(10):
        heat.read(20.0 + number)
    teller = PictureTeller(heat.keeper.picture)
    teller.change()
    heat.keeper.begin_again()
    heat.time_s = 3.0
    heat.read(23.0)
    name, said = told(teller.change())
    assert (name, said["picture"]["course"]) == ("whole", [[4.0, 23.0, None, None]])  # type: ignore[index]


def test_each_message_says_for_how_long_the_watch_has_not_shown_itself() -> None:
    """A page must know a frozen temperature from a present one."""
    heat = Heat()
    heat.read(20.0)
    ahead_s = 0.0
    teller = PictureTeller(heat.keeper.picture, lambda: time.monotonic() + ahead_s)
    assert told(teller.change())[1]["silent_s"] < 1.0  # type: ignore[operator]
    ahead_s = 7.0
    for message in (teller.still(), teller.whole()):
        assert 7.0 <= told(message)[1]["silent_s"] < 8.0  # type: ignore[operator]


# Seats


class _Numbers:
    """Tells numbers; the whole is all of them."""

    def __init__(self) -> None:
        self.last = 0

    def whole(self) -> bytes:
        return f"all to {self.last}".encode()

    def change(self) -> bytes | None:
        self.last += 1
        return str(self.last).encode()

    def still(self) -> bytes:
        return b"still"

    def silent_s(self) -> float:
        return 0.0


def test_a_page_that_has_fallen_behind_is_told_the_whole_and_then_goes_on() -> None:
    """What it missed is in the whole; what comes after fits on to it."""

    async def fall_behind() -> list[bytes | None]:
        numbers = _Numbers()
        seat = Seat(numbers.whole)
        heard = [await seat.next()]
        for _ in range(20):
            seat.offer(numbers.change() or b"")
        heard += [await seat.next()]
        seat.offer(numbers.change() or b"")
        seat.offer(numbers.change() or b"")
        heard += [await seat.next(), await seat.next()]
        seat.leave()
        return [*heard, await seat.next()]

    assert asyncio.run(fall_behind()) == [b"all to 0", b"all to 20", b"21", b"22", None]


def test_the_last_that_is_known_is_told_before_every_page_is_sent_away() -> None:
    """That the watch has ended is news."""

    async def end() -> list[bytes | None]:
        stream = Stream(_Numbers())
        seat = stream.take_seat()
        assert seat is not None
        first = await seat.next()
        stream.close()
        return [first, await seat.next(), await seat.next()]

    assert asyncio.run(end()) == [b"all to 1", b"2", None]


def test_there_are_so_many_seats_and_one_given_up_is_free() -> None:
    """Forty."""

    async def fill() -> tuple[bool, bool]:
        stream = Stream(_Numbers())
        seats = [stream.take_seat() for _ in range(MOST_SEATS)]
        is_full = stream.take_seat() is None
        stream.give_up(seats[0])  # type: ignore[arg-type]
        return is_full, stream.take_seat() is not None

    assert asyncio.run(fill()) == (True, True)


def test_a_stream_says_something_every_second_even_when_nothing_is_new(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page that hears nothing knows that it is cut off: no wait for news is longer than a second."""
    asked_s: list[float] = []

    async def in_vain(news: Coroutine[object, object, object], limit_s: float) -> None:
        news.close()
        asked_s.append(limit_s)
        raise TimeoutError

    monkeypatch.setattr("rampwarden.page.stream.asyncio.wait_for", in_vain)

    class Quiet(_Numbers):
        def change(self) -> bytes | None:
            return None

    async def listen() -> list[bytes | None]:
        stream = Stream(Quiet())
        running = asyncio.create_task(stream.run())
        seat = stream.take_seat()
        assert seat is not None
        heard = [await seat.next(), await seat.next()]
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        return heard

    assert asyncio.run(listen()) == [b"all to 0", b"still"]
    assert asked_s
    assert max(asked_s) <= 1.0


def test_a_heat_of_a_day_is_told_whole_in_a_bounded_message() -> None:
    """Some two thousand points, however long it lasts."""
    heat = Heat()
    for number in range(86_400):
        heat.follow(20.0 + number / 100.0)
    heat.show()
    whole = PictureTeller(heat.keeper.picture).change()
    assert whole is not None
    assert len(whole) < 120_000
    assert decode(whole.split(b"data: ")[1])


def test_what_reads_otherwise_in_fahrenheit_stands_beside_it_and_peoples_words_do_not() -> None:
    """Of a change only what has changed; the page turns no figure by itself."""
    heat = Heat()
    teller = PictureTeller(heat.keeper.picture)
    heat.note("oven at 100 °C")
    whole = json.loads(teller.whole().partition(b"data: ")[2])
    assert whole["fahrenheit"]["heat to 180 °C"] == "heat to 356 °F"
    heat.alarm("ramp-high", text="26 °C within 15 min, limit 25")
    changed = teller.change()
    assert changed is not None
    told = json.loads(changed.partition(b"data: ")[2])["fahrenheit"]
    assert told["26 °C within 15 min, limit 25"] == "47 °F within 15 min, limit 45"
    assert "heat to 180 °C" not in told
    assert not [said for said in (*whole["fahrenheit"], *told) if "oven at" in said]


def test_the_courses_of_other_probes_are_told_from_the_last_point_told() -> None:
    """Whole at first; what is held or missing is no part of them."""
    heat = Heat()
    teller = PictureTeller(heat.keeper.picture)
    for second in range(1, 8):
        quality = Quality.HELD if second == 4 else Quality.GOOD
        heat.probes = (ProbeStatus("chamber", "chamber", 100.0 + second, quality, float(second), 3.0),)
        heat.read(20.0)
    whole = json.loads(teller.whole().partition(b"data: ")[2])["picture"]["beside"]
    [beside] = whole
    assert (beside["probe"], beside["place"]) == ("chamber", "chamber")
    assert [point[0] for point in beside["points"]] == sorted({point[0] for point in beside["points"]})
    assert beside["points"][-1][0] == 7.0
    heat.probes = (ProbeStatus("chamber", "chamber", 120.0, Quality.GOOD, 9.0, 3.0),)
    heat.read(20.0, 2.0)
    changed = teller.change()
    assert changed is not None
    [new] = json.loads(changed.partition(b"data: ")[2])["picture"]["beside"]
    assert [point[0] for point in new["points"]] == [9.0]
