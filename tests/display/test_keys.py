"""Single keys at the display: one key one thing, and what cannot be taken back asks first."""

from dataclasses import dataclass, field

import pytest

from rampwarden.core.model import Command, CommandName, OpenQuestion
from rampwarden.display.keys import ReplayKeys, WatchKeys, keys_of


@dataclass
class Person:
    """Somebody at the keys, and what came of it."""

    heat_runs: bool = True
    alarms: tuple[str, ...] = ("ramp-high", "signal-lost")
    newest: tuple[str, str] = ("signal-lost", "no reading for 10 s")
    words: list[Command] = field(default_factory=list)
    quit_times: int = 0
    questions: tuple[OpenQuestion, ...] = ()

    def __post_init__(self) -> None:
        self.keys = WatchKeys(
            self.words.append,
            self.quit,
            lambda: list(self.alarms),
            lambda: self.heat_runs,
            lambda: self.newest,
            questions=lambda: self.questions,
        )

    def quit(self) -> None:
        self.quit_times += 1

    def press(self, text: str) -> list[tuple[CommandName, str, str]]:
        """Press keys; gives every word the watch has heard so far."""
        self.keys.take(text)
        return [(word.command, word.alarm, word.text) for word in self.words]


@pytest.mark.parametrize("key", ["a", "A", "\r", "\n"])
def test_one_key_acknowledges_all_and_so_does_enter(key: str) -> None:
    """As the plain mode has it."""
    assert Person().press(key) == [(CommandName.ACKNOWLEDGE, "", "")]


def test_a_number_acknowledges_that_alarm_alone() -> None:
    """As it is numbered on the screen; a number nobody has does nothing."""
    assert Person().press("29") == [(CommandName.ACKNOWLEDGE, "signal-lost", "")]


def test_a_note_is_typed_and_kept_with_enter() -> None:
    """Whatever letters it has: they are no keys meanwhile."""
    person = Person()
    person.press("nquit? a1x")
    assert person.keys.question() == "note: quit? a1x_"
    assert person.press("\x7f\r") == [(CommandName.NOTE, "", "quit? a1")]
    assert person.quit_times == 0


def test_escape_leads_back_from_everywhere() -> None:
    """Without a word to the watch."""
    for begun in ("n", "s", "m", "mw", "t", "q", "w"):
        person = Person()
        assert person.press(f"{begun}\x1b") == []
        assert person.keys.help()[0] == ("a", "acknowledge")
        assert person.quit_times == 0


def test_an_empty_line_is_no_word() -> None:
    """To end a segment wants a reason."""
    assert Person().press("n\rs  \r") == []
    assert Person().press("sdry by weight\r") == [(CommandName.SKIP_SEGMENT, "", "dry by weight")]


def test_a_transfer_asks_first() -> None:
    """It ends the segment: a glove that slips must not."""
    assert Person().press("tn") == []
    assert Person().press("ty") == [(CommandName.MARK, "", "transfer")]
    assert Person().press("tt") == [(CommandName.MARK, "", "transfer")]


def test_other_marks_are_chosen_by_a_letter_or_written() -> None:
    """The usual ones are the watch's own words."""
    assert Person().press("mo") == [(CommandName.MARK, "", "lid-open")]
    assert Person().press("mwskimmed\r") == [(CommandName.MARK, "", "skimmed")]
    assert Person().press("md") == [(CommandName.MARK, "", "dial")]
    assert Person().press("m9") == []


def test_to_quit_asks_while_a_heat_runs_and_only_then() -> None:
    """Nobody watches the furnace afterwards."""
    person = Person()
    person.press("qn")
    assert person.quit_times == 0
    person.press("qy")
    assert person.quit_times == 1
    idle = Person(heat_runs=False)
    idle.press("q")
    assert idle.quit_times == 1


WRONG, UNDO = CommandName.WRONG, CommandName.UNDO_WRONG


def test_one_key_says_that_it_was_wrong_and_one_takes_that_back() -> None:
    """Nothing is asked where nothing else can be meant; the bottom line says what was meant, and how to undo it."""
    person = Person(alarms=("ramp-high",), newest=("ramp-high", "26 °C within 15 min"))
    assert person.press("w") == [(WRONG, "ramp-high", "")]
    assert person.keys.said == "said to be wrong: ramp-high"
    assert person.keys.help()[0] == ("u", "undo")
    assert person.press("u")[1:] == [(UNDO, "ramp-high", "")]
    assert person.keys.help()[0] == ("a", "acknowledge")
    assert len(person.press("u")) == 2, "once is enough"


def test_a_message_that_was_wrong_is_named_by_its_words() -> None:
    """What is meant is what was on the screen, whatever is said meanwhile."""
    person = Person(alarms=(), newest=("", "the lid was lifted"))
    assert person.press("Wu") == [(WRONG, "", "the lid was lifted"), (UNDO, "", "the lid was lifted")]


@pytest.mark.parametrize(
    ("pressed", "alarm", "text"),
    [("w1", "ramp-high", ""), ("w2", "signal-lost", ""), ("ww", "", "the lid was lifted")],
)
def test_where_several_could_be_meant_it_asks_which(pressed: str, alarm: str, text: str) -> None:
    """An alarm by its number, or what was said last."""
    assert Person(newest=("", "the lid was lifted")).press(pressed) == [(WRONG, alarm, text)]


def test_what_was_not_said_cannot_be_wrong() -> None:
    """Before anything was said, after it was withdrawn, and by a number nobody has."""
    person = Person(alarms=(), newest=("", ""))
    assert person.press("w") == []
    assert person.keys.said == "nothing was said since that could be wrong"
    assert Person().press("w9") == []


def test_cursor_keys_and_control_characters_are_no_text() -> None:
    """Nor any command."""
    assert Person().press("\x1b[A\x1bOB\x00\t") == []
    assert Person().press("n\x1b[Dgas\x07 up\r") == [(CommandName.NOTE, "", "gas up")]


def test_a_text_has_an_end() -> None:
    """A key held down fills no memory."""
    person = Person()
    person.press("n" + 2000 * "x")
    assert person.press("\r") == [(CommandName.NOTE, "", 500 * "x")]


def test_every_help_line_names_what_its_keys_do() -> None:
    """In every state there is something to read at the bottom."""
    for keys in ("", "n", "t", "m", "s", "q", "w"):
        person = Person()
        person.press(keys)
        assert person.keys.help()


def test_a_replay_is_steered_and_nothing_else() -> None:
    """Space, pace, a tenth back and forth, the beginning, and out."""
    done: list[str] = []
    names = ("pause", "faster", "slower", "back", "forward", "beginning")
    keys = ReplayKeys({name: lambda name=name: done.append(name) for name in names}, lambda: done.append("quit"))  # type: ignore[misc]
    keys.take(" +-b\x1b[C0aq")
    assert done == ["pause", "faster", "slower", "back", "forward", "beginning", "quit"]


def test_keys_are_split_as_they_were_pressed() -> None:
    """A lone escape is one too."""
    assert keys_of("\x1b") == ["\x1b"]
    assert keys_of("\x1b[1;5Cx\x1b") == ["\x1b[1;5C", "x", "\x1b"]


def test_v_has_the_voice_say_how_the_heat_stands_where_there_is_one() -> None:
    """And is named among the keys only there."""
    asked: list[str] = []
    keys = WatchKeys(lambda _command: None, lambda: None, list, lambda: False, say_state=lambda: asked.append("state"))
    keys.take("v")
    assert asked == ["state"]
    assert ("v", "voice") in keys.help()
    silent = WatchKeys(lambda _command: None, lambda: None, list, lambda: False)
    silent.take("v")
    assert ("v", "voice") not in silent.help()


# Marks with a value, and replies


MIST = OpenQuestion(3, "Is there mist?", ("mist seen", "mist gone"), 60.0)
MEANT = OpenQuestion(4, "What is meant?", ("go on with 'b'", "leave"), 90.0, only_these=True)


@pytest.mark.parametrize(
    ("typed", "mark"), [("mvg1.2 bar\r", "gauge 1.2 bar"), ("mvhAna\r", "watched-by Ana"), ("ms", "mist-seen")]
)
def test_a_mark_with_a_value_asks_for_it(typed: str, mark: str) -> None:
    """And says what such a value looks like."""
    person = Person()
    assert person.press(typed) == [(CommandName.MARK, "", mark)]
    person.press("mvg")
    assert person.keys.question() == "gauge pressure, such as 1.2 bar: _"


def test_a_value_that_cannot_be_read_is_not_marked_and_the_bottom_line_says_why() -> None:
    """Before it is in the record."""
    person = Person()
    assert person.press("mvg1,200 mbar\r") == []
    assert "may mean 1.2 mbar or 1200 mbar" in person.keys.said


def test_a_question_is_replied_to_by_the_answers_number_or_in_words() -> None:
    """The one that has waited longest, by its own number, whatever is asked meanwhile."""
    person = Person(questions=(MIST,))
    assert person.keys.help()[0] == ("r", "reply")
    person.press("r")
    assert person.keys.help() == [("1", "mist seen"), ("2", "mist gone"), ("w", "your own words"), ("Esc", "later")]
    person.questions = (MEANT, MIST)
    person.press("2")
    assert person.words[-1] == Command(0.0, CommandName.ANSWER, text="mist gone", by="terminal", question=3)
    person.press("rw1")
    assert person.words[-1].text == "go on with 'b'", "of an order only what is offered can be meant"
    person.questions = (MIST,)
    person.press("rwonly a little\r")
    assert (person.words[-1].text, person.words[-1].question) == ("only a little", 3)


def test_where_nothing_was_asked_there_is_nothing_to_reply() -> None:
    """And it says so."""
    person = Person()
    assert person.press("r1") == [(CommandName.ACKNOWLEDGE, "ramp-high", "")]
    assert ("r", "reply") not in person.keys.help()


def test_one_key_turns_the_degrees_about_and_back() -> None:
    """The bottom line says into what."""
    person = Person()
    assert person.keys.degrees.unit == "°C"
    person.press("f")
    assert (person.keys.degrees.unit, person.keys.said) == ("°F", "temperatures in °F")
    person.press("F")
    assert person.keys.degrees.unit == "°C"
    assert person.words == []


def test_a_checklist_is_gone_through_line_by_line() -> None:
    """One key a line; Escape leaves the rest for later."""
    lines = tuple(OpenQuestion(n, f"line {n}", ("done", "not needed"), 0.0, is_check=True) for n in (1, 2, 3))
    person = Person(questions=lines)
    person.press("r12\x1b1")
    assert person.keys.asking.value == "nothing"
    assert [(word.question, word.text) for word in person.words[:2]] == [(1, "done"), (2, "not needed")]
    assert person.words[2].command is CommandName.ACKNOWLEDGE, "after Escape a number is an alarm's again"
    person.press("r")
    assert person.keys.help()[0] == ("[ ] line 1:", "")


def test_a_question_asked_meanwhile_does_not_end_the_checklist() -> None:
    """It is answered afterwards; whoever ticks goes on with the next line."""
    one, two = (OpenQuestion(n, f"line {n}", ("done", "not needed"), 0.0, is_check=True) for n in (1, 2))
    person = Person(questions=(one, OpenQuestion(9, "Is there mist?", ("mist seen",), 60.0), two))
    person.press("r12")
    assert [(word.question, word.text) for word in person.words] == [(1, "done"), (2, "not needed")]


def test_keys_that_somebody_has_given_a_mark_come_before_the_displays_own() -> None:
    """A large key that is a space to the system acknowledges; where a text is typed they are letters."""
    person = Person()
    person.keys.own = {" ": "", "b": "bottle-changed"}
    assert person.press(" B") == [(CommandName.ACKNOWLEDGE, "", ""), (CommandName.MARK, "", "bottle-changed")]
    assert person.press("na b\r")[-1] == (CommandName.NOTE, "", "a b")
