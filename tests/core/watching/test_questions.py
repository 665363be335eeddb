"""What the watch asks and waits for: the schedule's own questions, and what a mark in another segment means."""

import pytest

from rampwarden.core.heat import parse_schedule
from rampwarden.core.model import Command, CommandName, Event, EventName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule

ASKS = [
    {"after": "3 min", "question": "Weigh the pot"},
    {"after": "1 min", "question": "Is there mist?", "answers": ["mist seen", "mist gone"]},
]


def a_schedule(asks: object = (), checklist: object = ()) -> Schedule:
    """Dry, soak, carry over, heat, hold."""
    return parse_schedule(
        {
            "title": "A heat that asks",
            "checklist": list(checklist),  # type: ignore[call-overload]
            "segment": [
                {"name": "drying", "kind": "ramp", "to": "200 C", "ask": asks or []},
                {"name": "dry soak", "kind": "soak", "at": "200 C", "hold": "30 min"},
                {"name": "oven to furnace", "kind": "transfer", "within": "20 min"},
                {"name": "to red heat", "kind": "ramp", "to": "650 C"},
                {"name": "red soak", "kind": "soak", "at": "650 C", "hold": "30 min"},
            ],
        },
        "a test",
    )


class Heat:
    """A heat at a steady temperature, one reading a second."""

    def __init__(self, asks: object = (), temp_c: float = 100.0) -> None:
        self.monitor = Monitor(a_schedule(asks))
        self.temp_c, self.time_s = temp_c, 0.0
        self.go_on(5)

    def go_on(self, seconds: int) -> list[Event]:
        """Let time pass; gives what was said meanwhile."""
        events: list[Event] = []
        for _ in range(seconds):
            self.time_s += 1.0
            events += self.monitor.feed(Reading(self.time_s, temp_c=self.temp_c))
        return events

    def say(self, name: CommandName, text: str = "", question: int = 0) -> list[tuple[EventName, str]]:
        """Tell the watch something; gives what came of it."""
        events = self.monitor.feed(Command(self.time_s, name, text=text, question=question))
        return [(event.event, event.text) for event in events]

    @property
    def open(self) -> list[str]:
        """What waits for an answer."""
        return [each.text for each in self.monitor.status().questions]

    @property
    def segment(self) -> str | None:
        """Where the heat stands."""
        return self.monitor.status().segment


def asked(events: list[Event]) -> list[tuple[float, str, int | None, str | None]]:
    return [(each.time_s, each.text, each.question, each.segment) for each in events if each.event is EventName.ASKED]


# What a schedule asks


def test_a_schedule_asks_when_it_is_time_and_waits_for_the_answer() -> None:
    """Soonest first, however it is written; the segment's own clock counts, and nothing is asked twice."""
    heat = Heat(ASKS)
    # The third reading is believed.
    begun_s = 3.0
    assert asked(heat.go_on(250)) == [
        (begun_s + 60.0, "Is there mist? · mist seen / mist gone", 1, "drying"),
        (begun_s + 180.0, "Weigh the pot", 2, "drying"),
    ]
    assert heat.open == ["Is there mist?", "Weigh the pot"]


def test_an_answer_that_is_a_usual_mark_is_marked_too() -> None:
    """However it is written; the other question goes on waiting."""
    heat = Heat(ASKS)
    heat.go_on(250)
    assert heat.say(CommandName.ANSWER, "Mist Gone") == [
        (EventName.ANSWERED, "Is there mist? · mist gone"),
        (EventName.MARK, "mist gone"),
    ]
    assert heat.open == ["Weigh the pot"]
    assert heat.say(CommandName.ANSWER, "my own words", 2) == [(EventName.ANSWERED, "Weigh the pot · my own words")]
    assert heat.open == []


@pytest.mark.parametrize(("question", "text", "why"), [(0, "yes", "no question is open"), (7, "yes", "question 7 is")])
def test_an_answer_to_nothing_is_refused_and_says_so(question: int, text: str, why: str) -> None:
    """As any command that cannot be carried out."""
    [(event, words)] = Heat().say(CommandName.ANSWER, text, question)
    assert event is EventName.REFUSED
    assert why in words


def test_what_was_not_yet_due_is_not_asked_once_its_segment_is_over_and_what_was_asked_waits_on() -> None:
    """An unanswered question is not lost with its segment, but with the heat."""
    heat = Heat(ASKS)
    heat.go_on(100)
    heat.say(CommandName.SKIP_SEGMENT, "done")
    assert asked(heat.go_on(200)) == []
    assert heat.open == ["Is there mist?"]
    heat.say(CommandName.END_HEAT)
    assert heat.open == []


def test_questions_fall_on_the_grid_however_the_heat_is_cut() -> None:
    """Fed second by second or in one leap, the same is asked at the same time."""
    heat, leaping = Heat(ASKS), Monitor(a_schedule(ASKS))
    events = heat.go_on(70)
    for second in range(1, 6):
        leaping.feed(Reading(float(second), temp_c=100.0))
    assert asked(leaping.advance(75.0)) == asked(events) != []


# Marks in another segment


@pytest.mark.parametrize(
    ("mark", "leads_to"), [("transfer", "oven to furnace"), ("Arrived", "to red heat"), ("TRANSFER", "oven to furnace")]
)
def test_a_mark_where_the_schedule_waits_for_something_else_asks_what_is_meant(mark: str, leads_to: str) -> None:
    """It moves nothing by itself, and nothing is passed over in silence; the answer moves the heat."""
    heat = Heat()
    said = heat.say(CommandName.MARK, mark)
    assert [event for event, _ in said] == [EventName.MARK, EventName.ASKED]
    assert f"was marked in 'drying'. What is meant? · go on with '{leads_to}' / leave the schedule" in said[1][1]
    assert heat.segment == "drying"
    assert heat.say(CommandName.ANSWER, "perhaps")[0][0] is EventName.REFUSED
    heat.say(CommandName.ANSWER, f"go on with '{leads_to}'")
    assert heat.segment == leads_to
    assert heat.open == []


def test_such_a_mark_may_just_stand_in_the_record() -> None:
    """Then the schedule stays as it is."""
    heat = Heat()
    heat.say(CommandName.MARK, "transfer")
    heat.say(CommandName.ANSWER, "leave the schedule as it is")
    assert (heat.segment, heat.open) == ("drying", [])


def test_where_no_transfer_comes_any_more_the_next_segment_is_offered() -> None:
    """Whoever marks it means that something is done."""
    heat = Heat(temp_c=400.0)
    assert heat.segment == "to red heat"
    heat.say(CommandName.MARK, "transfer")
    assert heat.monitor.status().questions[0].answers == ("go on with 'red soak'", "leave the schedule as it is")


def test_what_a_mark_means_is_not_asked_any_more_in_the_next_segment() -> None:
    """The temperature has moved on: an answer would move another segment than was meant."""
    heat = Heat()
    heat.say(CommandName.MARK, "transfer")
    heat.say(CommandName.SKIP_SEGMENT, "dry")
    assert heat.open == []


def test_what_the_watch_has_seen_by_itself_is_not_asked() -> None:
    """A transfer that is under way, and an arrival that was just recognised."""
    heat = Heat()
    heat.say(CommandName.SKIP_SEGMENT, "dry")
    heat.say(CommandName.MARK, "transfer")
    assert heat.segment == "oven to furnace"
    heat.say(CommandName.MARK, "transfer")
    heat.say(CommandName.MARK, "arrived")
    assert heat.segment == "to red heat"
    heat.say(CommandName.MARK, "arrived")
    assert (heat.segment, heat.open) == ("to red heat", [])


# Hand-over


def test_who_watches_is_known_from_the_mark_until_the_next() -> None:
    """Written as it was typed."""
    heat = Heat()
    assert heat.monitor.status().watched_by == ""
    heat.say(CommandName.MARK, "watched by Ana")
    heat.say(CommandName.MARK, "watched-by Ben Ö.")
    assert heat.monitor.status().watched_by == "Ben Ö."


# The checklist


def test_the_checklist_is_asked_at_once_and_waits_beside_all_other_questions() -> None:
    """Line by line, before anything else is said of the heat; a line that is not needed is answered too."""
    checklist = ("Hose and valve tried for leaks", "Tongs dry")
    monitor = Monitor(a_schedule([{"after": "1 s", "question": f"{n}?"} for n in range(25)], checklist))
    begun = monitor.feed(Reading(0.0, temp_c=20.0))
    assert [(each.event, each.text) for each in begun] == [
        (EventName.HEAT_STARTED, "watching: A heat that asks"),
        (EventName.ASKED, "Hose and valve tried for leaks · done / not needed"),
        (EventName.ASKED, "Tongs dry · done / not needed"),
    ]
    for second in range(1, 10):
        monitor.feed(Reading(float(second), temp_c=20.0))
    questions = monitor.status().questions
    assert [each.text for each in questions if each.is_check] == list(checklist)
    assert [each.text for each in questions if not each.is_check] == [f"{n}?" for n in range(5, 25)]
    [answered] = monitor.feed(Command(9.0, CommandName.ANSWER, text="DONE", question=2))
    assert answered.text == "Tongs dry · done"
    assert [each.text for each in monitor.status().questions if each.is_check] == list(checklist[:1])


def test_a_bare_answer_is_said_to_whatever_offers_it_and_not_to_the_checklist_first() -> None:
    """Somebody at the door answers what was just asked, with the list still open."""
    monitor = Monitor(a_schedule(ASKS, ("Tongs dry", "Leaks")))
    for second in range(70):
        monitor.feed(Reading(float(second), temp_c=20.0))
    assert [each.text for each in monitor.status().questions] == ["Is there mist?", "Tongs dry", "Leaks"]
    said = [
        monitor.feed(Command(70.0, CommandName.ANSWER, text=text))[0].text
        for text in ("done", "a little", "Not needed")
    ]
    assert said == ["Tongs dry · done", "Is there mist? · a little", "Leaks · not needed"]


def test_without_a_checklist_nothing_is_asked() -> None:
    """So records of schedules without one are what they were."""
    assert [each.event for each in Monitor(a_schedule()).feed(Reading(0.0, temp_c=20.0))] == [EventName.HEAT_STARTED]
