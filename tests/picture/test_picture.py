"""The picture of a heat: one snapshot with everything a display needs, for any number of displays."""

import itertools
import sys
import threading

import msgspec
import pytest

from pictured_heat import PicturedHeat
from rampwarden.core.limits.edges import Edges
from rampwarden.core.model import (
    AlarmState,
    Command,
    CommandName,
    Event,
    EventName,
    Notice,
    NoticeName,
    Priority,
    Reading,
)
from rampwarden.filed import Filed
from rampwarden.picture.picture import Broker, Mode, Picture, Withdrawn
from rampwarden.picture.thinned_course import FINE_SPAN_S, ThinnedCourse


def test_before_anything_has_come_there_is_a_picture_all_the_same() -> None:
    """A display may be quicker than the board."""
    picture = PicturedHeat().keeper.picture()
    assert picture.status.temp_c is None
    assert picture.course == ()
    assert [segment.name for segment in picture.about.segments] == ["drying", "dry soak", "to red heat"]


def test_it_says_what_now_and_what_next() -> None:
    """The segment with its instruction, and the one that follows."""
    picture = PicturedHeat().climb(40.0, 900.0).keeper.picture()
    assert picture.present is not None
    assert (picture.present.name, picture.present.say) == ("drying", "Door ajar.")
    assert picture.present.limits == "at most 25 °C in 15 min"
    assert picture.coming is not None
    assert picture.coming.aim == "hold 185 to 215 °C for 30 min"


def test_the_corridor_goes_along_with_the_course_and_the_way_ahead() -> None:
    """As it was at each moment, as it is, and as it leads on."""
    picture = PicturedHeat().climb(40.0, 900.0).keeper.picture()
    assert picture.high_c is not None
    # The judge averages, and in its first window an average of lag a fraction of it still stands a little low.
    assert picture.high_c == pytest.approx(45.0, abs=1.0)
    assert picture.course[-1].high_c == pytest.approx(picture.high_c, abs=0.2)
    assert picture.ahead[0].time_s == picture.status.time_s
    assert picture.ahead[-1].way_c == 650.0


def test_a_heat_without_a_segment_leads_nowhere() -> None:
    """The schedule is run: there is a temperature, and no way ahead of it."""
    heat = PicturedHeat().climb(40.0, 900.0)
    status = heat.monitor.status()
    heat.keeper.show(msgspec.structs.replace(status, segment=None))
    picture = heat.keeper.picture()
    assert picture.status.temp_c is not None
    assert picture.ahead == ()


def test_an_alarm_comes_with_what_to_do_and_the_unacknowledged_first() -> None:
    """Whatever its priority: it waits for somebody."""
    heat = PicturedHeat().climb(21.0, 60.0).climb(60.0, 240.0)
    assert heat.keeper.picture().alarms[0].alarm == "ramp-high"
    assert heat.keeper.picture().alarms[0].action == "lower the heat or open the lid"
    heat.say(CommandName.ACKNOWLEDGE, alarm="ramp-high")
    alarms = heat.keeper.picture().alarms
    assert [(alarm.alarm, alarm.waits) for alarm in alarms] == [("ramp-forecast", True), ("ramp-high", False)]


def test_an_alarm_that_is_over_or_shelved_comes_with_nothing_to_do() -> None:
    """Nor with a time to do it in; why it matters is still worth knowing."""
    heat = PicturedHeat().climb(21.0, 60.0).climb(60.0, 240.0)
    heat.take(Command(heat.time_s, CommandName.SHELVE, alarm="ramp-forecast", minutes=60.0))
    heat.climb(60.0, 1200.0)
    alarms = {alarm.alarm: alarm for alarm in heat.keeper.picture().alarms}
    assert alarms["ramp-high"].state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert alarms["ramp-forecast"].state is AlarmState.SHELVED
    assert {(alarm.action, alarm.time_to_act) for alarm in alarms.values()} == {("", "")}
    assert all(alarm.why for alarm in alarms.values())


def test_happenings_are_dated_points() -> None:
    """Notes, marks, segments begun, alarms raised; not every change of an alarm's state."""
    heat = PicturedHeat().climb(60.0, 300.0)
    heat.say(CommandName.NOTE, "gas up")
    heat.say(CommandName.ACKNOWLEDGE)
    happenings = heat.keeper.picture().happenings
    assert [each.text for each in happenings if each.event is EventName.NOTE] == ["gas up"]
    assert len([each for each in happenings if each.alarm == "ramp-high"]) == 1
    assert any(each.event is EventName.SEGMENT_STARTED for each in happenings)


def test_what_was_said_to_be_wrong_is_known_as_such_and_no_longer_the_newest() -> None:
    """Until that is taken back; the answers themselves are listed, and are no statements."""
    heat = PicturedHeat().climb(21.0, 60.0).climb(60.0, 240.0)
    said = heat.keeper.picture().newest_statement
    assert said is not None
    assert said.alarm == "ramp-high"
    heat.say(CommandName.WRONG)
    picture = heat.keeper.picture()
    assert picture.withdrawn == (Withdrawn(said.time_s, "ramp-high", said.text),)
    assert picture.newest_statement is None
    assert [alarm.alarm for alarm in picture.alarms if alarm.state is AlarmState.SAID_WRONG] == ["ramp-high"]
    answer = picture.happenings[-1]
    assert "said to be wrong" in answer.text
    assert (answer.is_statement, answer.priority) == (False, None)
    heat.say(CommandName.UNDO_WRONG)
    picture = heat.keeper.picture()
    assert (picture.withdrawn, picture.newest_statement) == ((), said)


def test_of_two_messages_of_one_moment_the_one_that_was_meant_is_withdrawn() -> None:
    """Nothing but its words tells them apart."""
    heat = PicturedHeat().climb(21.0, 60.0)
    for text in ("the lid was lifted", "cold metal was added"):
        heat.keeper.tell(Event(60.0, EventName.OBSERVED, text=text))
    wrong = "said to be wrong, withdrawn: the lid was lifted"
    heat.keeper.tell(Event(70.0, EventName.OBSERVED, text=wrong, withdraws=60.0))
    picture = heat.keeper.picture()
    assert [each.text for each in picture.withdrawn] == ["the lid was lifted"]
    assert picture.newest_statement is not None
    assert picture.newest_statement.text == "cold metal was added"


def test_what_the_disk_has_not_got_is_marked_until_it_has() -> None:
    """The latest happenings, and alarms with what they say; lines reach the disk in order, so the newest come last."""
    heat = PicturedHeat().climb(21.0, 60.0)
    heat.take(Notice(61.0, NoticeName.RECORD_FAILING, text="no answer"))
    before = len(heat.keeper.picture().happenings)
    assert heat.keeper.picture().unfiled == 0
    heat.keeper.tell(Event(70.0, EventName.NOTE, text="one"), Filed(10, "aa", on_disk=False))
    alarm = Event(71.0, EventName.ALARM, "record-failing", AlarmState.UNACKNOWLEDGED, Priority.MEDIUM, text="two")
    heat.keeper.tell(alarm, Filed(12, "aa", on_disk=False))
    acknowledged = msgspec.structs.replace(alarm, state=AlarmState.ACKNOWLEDGED)
    heat.keeper.tell(acknowledged, Filed(13, "aa", on_disk=False))
    heat.keeper.show(heat.monitor.status())
    picture = heat.keeper.picture()
    assert (len(picture.happenings) - before, picture.unfiled) == (2, 2), "what is not listed is not counted"
    assert [each.text.endswith(" · not yet on disk") for each in picture.alarms] == [True]
    heat.keeper.note_on_disk(11)
    assert heat.keeper.picture().unfiled == 1
    heat.keeper.note_on_disk(13)
    picture = heat.keeper.picture()
    assert picture.unfiled == 0
    assert not picture.alarms[0].text.endswith("not yet on disk")
    heat.keeper.tell(Event(80.0, EventName.NOTE, text="three"), Filed(20, "aa", on_disk=False))
    heat.keeper.tell(Event(81.0, EventName.NOTE, text="four"), Filed(21, "aa"))
    assert heat.keeper.picture().unfiled == 0, "one that is there vouches for all before"
    heat.keeper.tell(Event(82.0, EventName.NOTE, text="five"), Filed(22, "aa", on_disk=False))
    heat.keeper.begin_again()
    assert heat.keeper.picture().unfiled == 0


def test_health_is_known_as_soon_as_the_news_has_come() -> None:
    """Lost frames are counted, troubles stand until they are over."""
    heat = PicturedHeat(has_broker=True).climb(21.0, 5.0)
    assert heat.keeper.picture().health.broker is Broker.WAITING
    heat.keeper.note_reach(True)
    heat.note_news(NoticeName.FRAMES_LOST, count=3)
    heat.note_news(NoticeName.RECORD_FAILING, text="no space left")
    heat.note_news(NoticeName.PORT_LOST, text="unplugged")
    heat.note_news(NoticeName.BROKER_LOST, text="nobody listens")
    health = heat.keeper.picture().health
    assert (health.lost_frames, health.record_trouble, health.board_trouble) == (3, "no space left", "unplugged")
    assert (health.broker, health.broker_trouble) == (Broker.LOST, "nobody listens")
    heat.note_news(NoticeName.RECORD_WRITTEN, NoticeName.PORT_OPENED, NoticeName.BROKER_REACHED)
    health = heat.keeper.picture().health
    assert (health.record_trouble, health.board_trouble, health.broker) == ("", "", Broker.REACHED)


def test_a_picture_is_its_own_json() -> None:
    """What a page is sent: points as short arrays."""
    picture = PicturedHeat(Mode.REHEARSAL).climb(40.0, 900.0).keeper.picture()
    text = msgspec.json.encode(picture)
    assert msgspec.json.decode(text, type=Picture) == picture
    as_sent = msgspec.json.decode(text)
    assert as_sent["about"]["mode"] == "rehearsal"
    assert as_sent["course"][0][:2] == [picture.course[0].time_s, picture.course[0].temp_c]


def test_whoever_waits_gets_the_next_picture_and_not_before() -> None:
    """A condition, not a poll; and after its patience the present one."""
    heat = PicturedHeat().climb(21.0, 5.0)
    known = heat.keeper.picture().number
    assert heat.keeper.wait(known, 0.01).number == known
    got: list[Picture] = []
    waiting = threading.Thread(target=lambda: got.append(heat.keeper.wait(known, 10.0)))
    waiting.start()
    heat.show()
    waiting.join(10.0)
    assert [picture.number for picture in got] == [known + 1]


def test_the_end_wakes_whoever_waits() -> None:
    """And says that nothing will change any more."""
    heat = PicturedHeat().climb(21.0, 5.0)
    heat.keeper.close()
    assert heat.keeper.wait(heat.keeper.picture().number - 1, 10.0).over


def test_what_is_shown_is_of_one_moment() -> None:
    """Readings that came after the last look are not in the picture yet."""
    heat = PicturedHeat().climb(21.0, 10.0)
    before = heat.keeper.picture()
    for second in range(20, 30):
        heat.take(Reading(float(second), temp_c=30.0))
    heat.note_news(NoticeName.GARBLED, count=1)
    after = heat.keeper.picture()
    assert after.number > before.number
    assert (after.course, after.high_c) == (before.course, before.high_c)
    assert heat.show().keeper.picture().course[-1].temp_c == 30.0


def test_a_heat_taken_up_again_stands_in_its_segment_without_having_been_told() -> None:
    """The status says where it is; the corridor begins there."""
    heat = PicturedHeat().climb(21.0, 5.0)
    late = PicturedHeat()
    late.keeper.show(heat.monitor.status())
    picture = late.keeper.picture()
    assert picture.present is not None
    assert picture.present.name == "drying"


def test_a_replay_that_goes_back_begins_again() -> None:
    """Nothing of what is to come is shown already."""
    heat = PicturedHeat(Mode.REPLAY).climb(60.0, 300.0)
    heat.keeper.close()
    heat.keeper.begin_again()
    picture = heat.keeper.picture()
    assert (picture.course, picture.happenings, picture.over) == ((), (), False)


def test_seventy_two_hours_are_two_thousand_points_with_the_last_half_hour_fine() -> None:
    """Memory is flat, and the whole heat is still there."""
    course = ThinnedCourse()
    edges = Edges(10.0, 30.0)
    most = 0
    for second in range(72 * 3600):
        course.feed(float(second), 20.0 + second / 3600.0, edges)
        if second % 36_000 == 0:
            most = max(most, len(course.points(float(second))))
    points = course.points(72 * 3600.0)
    assert max(most, len(points)) <= 2000
    assert points[0].time_s < 10.0
    fine = [point for point in points if point.time_s >= points[-1].time_s - FINE_SPAN_S]
    assert max(after.time_s - before.time_s for before, after in itertools.pairwise(fine)) <= 3.0
    coarse = points[: -len(fine)]
    gaps = [after.time_s - before.time_s for before, after in itertools.pairwise(coarse)]
    assert max(gaps) < 900.0
    assert sys.getsizeof(points) < 20_000
