"""Questions to a broker: few at a time, urgent ones first, and never given up."""

from itertools import pairwise

from rampwarden.shop.questions import WINDOW, Questions


def topics(count: int, kind: str = "t") -> list[str]:
    """Give topics to ask for."""
    return [f"{kind}/{number}" for number in range(count)]


def test_no_more_is_asked_at_a_time_than_a_broker_keeps_for_a_listener() -> None:
    """Each answer makes room, and what has come is asked for no longer."""
    questions = Questions()
    for topic in topics(3 * WINDOW):
        questions.want(topic)
    asked, left = questions.step(0.0)
    assert (asked, left) == (topics(WINDOW), [])
    assert questions.step(0.1) == ([], [])
    for topic in asked[:100]:
        questions.settle(topic)
    again, left = questions.step(0.2)
    assert (again, left) == (topics(3 * WINDOW)[WINDOW : WINDOW + 100], asked[:100])
    assert len(questions) == 3 * WINDOW - 100


def test_what_is_urgent_is_asked_first_and_nothing_twice() -> None:
    """Lists of alarms before descriptions; a wish that is repeated is one wish."""
    questions = Questions()
    for topic in topics(5):
        questions.want(topic)
    questions.want("alarms", urgent=True)
    questions.want("t/3", urgent=True)
    assert questions.step(0.0)[0] == ["alarms", *topics(5)]
    questions.want("t/3")
    assert questions.step(0.1)[0] == []


def test_who_does_not_answer_holds_up_nobody_and_is_asked_again_less_and_less_often() -> None:
    """A broker that has an answer gives it at once; after the second time in vain it can be told to people."""
    questions = Questions()
    for topic in topics(WINDOW + 1):
        questions.want(topic)
    questions.step(0.0)
    asked, left = questions.step(0.6)
    assert (asked, left) == (topics(WINDOW + 1)[WINDOW:], topics(WINDOW))
    for topic in topics(WINDOW + 1)[1:]:
        questions.settle(topic)
    times = []
    for tenths in range(7, 3000):
        asked, _ = questions.step(tenths / 10)
        times += [tenths / 10] * ("t/0" in asked)
        assert ("t/0" in questions.in_vain) is (len(times) >= 1 and tenths / 10 >= times[0] + 3.0)
    waits_s = [round(later - earlier) for earlier, later in pairwise(times)]
    assert times[0] == 1.6
    assert waits_s == [6, 13, 33, 63, 63, 63]
    questions.settle("t/0")
    assert (questions.in_vain, len(questions)) == ([], 0)


def test_what_is_asked_in_vain_waits_behind_what_was_never_asked() -> None:
    """A thousand furnaces that are gone must not hold up a thousand that are there."""
    questions = Questions()
    for topic in topics(WINDOW, "gone"):
        questions.want(topic, urgent=True)
    questions.step(0.0)
    questions.step(0.6)
    for topic in topics(WINDOW, "there"):
        questions.want(topic)
    assert questions.step(10.0)[0] == topics(WINDOW, "there")


def test_a_topic_may_be_wanted_again_once_it_has_come() -> None:
    """A furnace that connects anew may describe itself anew."""
    questions = Questions()
    for now_s in (0.0, 5.0):
        questions.want("t/0")
        assert questions.step(now_s)[0] == ["t/0"]
        questions.settle("t/0")


def test_with_the_connection_everything_asked_is_gone() -> None:
    """On the next one it is asked for again by whoever wants it."""
    questions = Questions()
    questions.want("t/0")
    questions.step(0.0)
    questions.forget()
    assert len(questions) == 0
    assert questions.step(100.0) == ([], [])
