"""The queue between the board's thread and the watch: order, waiting, and what goes when it must."""

import threading

from rampwarden.core.model import ClockMark, Notice, NoticeName, Reading
from rampwarden.sources.input_queue import InputQueue

OPENED = Notice(0.0, NoticeName.PORT_OPENED)


def taken(queue: InputQueue) -> list[object]:
    """Give everything that is in the queue now."""
    items = []
    while (item := queue.take(0.0)) is not None:
        items.append(item)
    return items


def test_inputs_come_out_in_the_order_they_went_in() -> None:
    """Notices and marks among the readings."""
    queue = InputQueue()
    items = [OPENED, Reading(1.0, temp_c=20.0), ClockMark(1.2), Reading(2.0, temp_c=21.0)]
    for item in items:
        queue.put(item)
    assert taken(queue) == items


def test_of_marks_in_a_row_only_the_last_is_kept() -> None:
    """An hour of silence before a stalled watch is one mark."""
    queue = InputQueue()
    queue.put(ClockMark(1.0))
    for tenth in range(1000):
        queue.put(ClockMark(1.0 + tenth / 10))
    queue.put(Reading(101.0, temp_c=20.0))
    queue.put(ClockMark(102.0))
    assert taken(queue) == [ClockMark(100.9), Reading(101.0, temp_c=20.0), ClockMark(102.0)]


def test_a_full_queue_waits_for_the_watch() -> None:
    """A short pause of the watch loses nothing."""
    queue = InputQueue(capacity=2, patience_s=30.0)
    queue.put(Reading(1.0))
    queue.put(Reading(2.0))
    putting = threading.Thread(target=queue.put, args=(Reading(3.0),))
    putting.start()
    assert not queue.has_room
    assert queue.take(0.0) == Reading(1.0)
    putting.join(10.0)
    assert taken(queue) == [Reading(2.0), Reading(3.0)]
    assert queue.dropped == 0


def test_when_patience_ends_the_oldest_reading_goes_and_notices_stay() -> None:
    """And it is counted."""
    queue = InputQueue(capacity=3, patience_s=0.01)
    for item in (OPENED, Reading(1.0), Reading(2.0), Reading(3.0), Reading(4.0)):
        queue.put(item)
    assert taken(queue) == [OPENED, Reading(3.0), Reading(4.0)]
    assert queue.dropped == 2


def test_a_queue_of_notices_alone_stays_bounded_too() -> None:
    """The oldest goes."""
    queue = InputQueue(capacity=2, patience_s=0.01)
    notices = [Notice(float(n), NoticeName.GARBLED) for n in range(4)]
    for notice in notices:
        queue.put(notice)
    assert taken(queue) == notices[2:]


def test_taking_from_an_empty_queue_ends_after_its_time() -> None:
    """With nothing."""
    assert InputQueue().take(0.05) is None


def test_taking_from_an_empty_queue_waits_for_what_comes() -> None:
    """It does not say that nothing came while there is time left."""
    queue, got = InputQueue(), list[object]()
    taking = threading.Thread(target=lambda: got.append(queue.take(60.0)))
    taking.start()
    queue.put(Reading(1.0))
    taking.join(10.0)
    assert got == [Reading(1.0)]


def test_closing_frees_both_sides_and_keeps_what_came_before() -> None:
    """A watch that stops waits for nobody."""
    queue = InputQueue(capacity=1, patience_s=60.0)
    queue.put(Reading(1.0))
    putting = threading.Thread(target=queue.put, args=(Reading(2.0),))
    putting.start()
    queue.close()
    putting.join(10.0)
    assert not putting.is_alive()
    assert queue.take(60.0) == Reading(1.0)
    assert queue.take(60.0) is None
