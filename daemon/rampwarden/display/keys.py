"""What keys mean at the display: a table of single keys, and small questions at the bottom of the screen.

Gloves are on: one key does one thing, what cannot be taken back asks first, and Escape always leads back. Knows nothing
of terminals; it takes characters and gives commands.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum

from rampwarden.core.model import Command, CommandName, OpenQuestion
from rampwarden.core.usual_marks import USUAL_MARKS, refuse_unusable
from rampwarden.display.degrees import CELSIUS, Degrees
from rampwarden.errors import QuantityError

_LONGEST_TEXT = 500
_SHOWN = 30
"""Letters of a message that name it in the bottom line."""
_ESCAPE, _BACKSPACES = "\x1b", ("\x7f", "\x08")

MARKS = {
    "t": "transfer",
    "a": "arrived",
    "o": "lid-open",
    "c": "lid-closed",
    "b": "bottle-changed",
    "m": "charged",
    "f": "flame-out",
    "d": "dial",
    "s": "mist-seen",
    "g": "mist-gone",
}
VALUED_MARKS = {
    "b": "burner",
    "g": "gauge",
    "n": "bottle-number",
    "w": "bottle-weighs",
    "p": "pot-weighs",
    "l": "pot-looks",
    "h": "watched-by",
}
"""Marks that are asked for their value, by their keys."""

RAREST = ("s", "skip")
"""The key with what it does that a narrow screen leaves unnamed; it works there too."""


class Asking(Enum):
    """What the bottom line asks at the moment."""

    NOTHING = "nothing"
    NOTE = "note"
    TRANSFER = "transfer"
    MARK = "mark"
    OWN_MARK = "own mark"
    VALUED_MARK = "valued mark"
    VALUE = "value"
    REPLY = "reply"
    OWN_REPLY = "own reply"
    SKIP = "skip"
    QUIT = "quit"
    WRONG = "wrong"


_ASKS = {"n": Asking.NOTE, "t": Asking.TRANSFER, "m": Asking.MARK, "s": Asking.SKIP}
_LINES = {
    Asking.NOTE: "note",
    Asking.OWN_MARK: "mark, in a word",
    Asking.VALUE: "",
    Asking.OWN_REPLY: "reply",
    Asking.SKIP: "end this segment; why",
}
_VALUES = {each.name: each for each in USUAL_MARKS}


@dataclass(slots=True)
class WatchKeys:
    """Follows what is typed. `obey` takes commands, `quit` is called once somebody means it.

    `alarms` gives the names of the standing alarms as they are numbered on the screen, `asks_to_quit` whether a heat
    runs, `newest` what the watch said last: its alarm, or empty, and its words, or empty where there is nothing to
    answer. `said` is what was done last, for the bottom line.
    """

    obey: Callable[[Command], None]
    quit: Callable[[], None]
    alarms: Callable[[], list[str]]
    asks_to_quit: Callable[[], bool]
    newest: Callable[[], tuple[str, str]] = lambda: ("", "")
    asking: Asking = Asking.NOTHING
    typed: str = ""
    said: str = ""
    answered: Command | None = None
    """What was said to be wrong last, to take it back."""
    say_state: Callable[[], object] | None = None
    """Has the voice say how the heat stands; None where there is no voice."""
    degrees: Degrees = CELSIUS
    """In what temperatures are shown; `f` turns it about."""
    questions: Callable[[], tuple[OpenQuestion, ...]] = lambda: ()
    """Gives what waits for an answer, oldest first."""
    own: Mapping[str, str] = field(default_factory=dict)
    """Keys that somebody has given a mark, or that acknowledge with none; they come before the display's own."""
    asked: OpenQuestion | None = None
    """The question that is being answered, whatever is asked meanwhile."""
    valued: str = ""
    """The mark whose value is being typed."""

    def take(self, text: str) -> None:
        """Take what was typed, in order; sequences of cursor keys and the like are passed over."""
        for key in keys_of(text):
            self.said = ""
            if self.asking in _LINES:
                self._type(key)
            elif self.asking is not Asking.NOTHING:
                self._answer(key)
            elif key.lower() in self.own:
                self._press_own(self.own[key.lower()])
            else:
                self._press(key)

    def help(self) -> list[tuple[str, str]]:
        """Give the keys that do something now, each with what it does."""
        match self.asking:
            case Asking.NOTHING:
                if self.said and self.answered is not None:
                    return [("u", "undo"), ("a", "acknowledge"), ("q", "quit")]
                named = {"a": "acknowledge", "w": "wrong", "n": "note", "t": "transfer", "m": "mark"}
                voice = [] if self.say_state is None else [("v", "voice")]
                reply = [("r", "reply")] if self.questions() else []
                return [*reply, *named.items(), *voice, RAREST, ("q", "quit")]
            case Asking.WRONG:
                return [("1 … 9", "that alarm was wrong"), ("w", "what was said last"), ("Esc", "")]
            case Asking.TRANSFER:
                return [("y", "yes, the pot is being carried over"), ("n", "no")]
            case Asking.QUIT:
                return [("y", "stop watching (no more alarms)"), ("n", "keep watching")]
            case Asking.MARK:
                return [*MARKS.items(), ("v", "a value"), ("w", "word"), ("Esc", "")]
            case Asking.VALUED_MARK:
                return [*((key, _VALUES[name].asked) for key, name in VALUED_MARKS.items()), ("Esc", "")]
            case Asking.REPLY if self.asked is not None:
                check = [(f"[ ] {self.asked.text}:", "")] if self.asked.is_check else []
                offered = [(str(number), answer) for number, answer in enumerate(self.asked.answers[:9], start=1)]
                return [
                    *check,
                    *offered,
                    *([] if self.asked.only_these else [("w", "your own words")]),
                    ("Esc", "later"),
                ]
            case _:
                return [("Enter", "keeps it"), ("Esc", "does not")]

    def question(self) -> str:
        """Give the line being typed with what it is for; empty when nothing is."""
        if self.asking is Asking.VALUE:
            mark = _VALUES[self.valued]
            return f"{mark.asked}, such as {mark.example}: {self.typed}_"
        return f"{_LINES[self.asking]}: {self.typed}_" if self.asking in _LINES else ""

    @property
    def offers_much(self) -> bool:
        """Whether what is asked has more answers than a line may hold."""
        return self.asking in (Asking.MARK, Asking.VALUED_MARK, Asking.REPLY)

    def _press(self, key: str) -> None:
        match key:
            case "a" | "A" | "\r" | "\n":
                self._do(CommandName.ACKNOWLEDGE, said="acknowledged: all")
            case "w" | "W":
                self._press_wrong()
            case "u" | "U":
                self._undo_wrong()
            case _ if (asking := _ASKS.get(key.lower())) is not None:
                self._ask(asking)
            case "v" | "V" if self.say_state is not None:
                self.say_state()
            case "f" | "F":
                self.degrees = Degrees(fahrenheit=not self.degrees.fahrenheit)
                self.said = f"temperatures in {self.degrees.unit}"
            case "r" | "R":
                self._ask_reply()
            case "q" | "Q":
                if self.asks_to_quit():
                    self._ask(Asking.QUIT)
                else:
                    self.quit()
            case _ if len(key) == 1 and key in "123456789":
                self._acknowledge_one(int(key))

    def _press_own(self, mark: str) -> None:
        if mark:
            self._do(CommandName.MARK, mark, said=f"marked: {mark}")
        else:
            self._do(CommandName.ACKNOWLEDGE, said="acknowledged: all")

    def _acknowledge_one(self, number: int) -> None:
        names = self.alarms()
        if number <= len(names):
            name = names[number - 1]
            self.obey(Command(0.0, CommandName.ACKNOWLEDGE, alarm=name, by="terminal"))
            self.said = f"acknowledged: {name}"

    def _answer(self, key: str) -> None:
        asked, self.asking = self.asking, Asking.NOTHING
        if asked is Asking.MARK:
            self._answer_mark(key.lower())
        elif asked is Asking.VALUED_MARK:
            if key.lower() in VALUED_MARKS:
                self.valued = VALUED_MARKS[key.lower()]
                self._ask(Asking.VALUE)
        elif asked is Asking.REPLY:
            self._answer_question(key.lower())
        elif asked is Asking.WRONG:
            names = self.alarms()
            if key in ("w", "W"):
                self._say_wrong(*self.newest())
            elif len(key) == 1 and key in "123456789" and int(key) <= len(names):
                self._say_wrong(names[int(key) - 1], "")
        elif key in ("y", "Y") or (asked is Asking.TRANSFER and key in ("t", "T")):
            if asked is Asking.TRANSFER:
                self._do(CommandName.MARK, "transfer", said="marked: transfer")
            else:
                self.quit()

    def _answer_mark(self, key: str) -> None:
        if key == "w":
            self._ask(Asking.OWN_MARK)
        elif key == "v":
            self._ask(Asking.VALUED_MARK)
        elif key in MARKS:
            self._do(CommandName.MARK, MARKS[key], said=f"marked: {MARKS[key]}")

    def _ask_reply(self) -> None:
        """Take up the question that has waited longest."""
        questions = self.questions()
        if not questions:
            self.said = "nothing was asked"
            return
        self.asked = questions[0]
        self._ask(Asking.REPLY if self.asked.answers else Asking.OWN_REPLY)

    def _answer_question(self, key: str) -> None:
        question = self.asked
        if question is None:
            return
        if key == "w" and not question.only_these:
            self._ask(Asking.OWN_REPLY)
        elif len(key) == 1 and key in "123456789" and int(key) <= len(question.answers):
            self._reply(question.answers[int(key) - 1])
        elif key != _ESCAPE:
            # A key beside the right one must not acknowledge an alarm next.
            self._ask(Asking.REPLY)

    def _reply(self, text: str) -> None:
        question, self.asked = self.asked, None
        if question is not None:
            self.obey(Command(0.0, CommandName.ANSWER, text=text, by="terminal", question=question.number))
            self.said = f"replied: {text}"
            if question.is_check:
                # A list is gone through in one go: the next line stands there already.
                lines = (each for each in self.questions() if each.is_check and each.number > question.number)
                self.asked = next(lines, None)
                if self.asked is not None:
                    self._ask(Asking.REPLY)

    def _press_wrong(self) -> None:
        """Answer what was said last; ask which is meant when another alarm stands beside it."""
        names, (alarm, text) = self.alarms(), self.newest()
        if names and names != [alarm]:
            self._ask(Asking.WRONG)
        else:
            self._say_wrong(alarm, text)

    def _say_wrong(self, alarm: str, text: str) -> None:
        if not alarm and not text:
            self.said = "nothing was said since that could be wrong"
            return
        # A message is known by its words: what is meant is what was on the screen, whatever has been said since.
        text = "" if alarm else text[:_LONGEST_TEXT]
        self.answered = Command(0.0, CommandName.WRONG, alarm=alarm, text=text, by="terminal")
        self.obey(self.answered)
        self.said = f"said to be wrong: {alarm or text[:_SHOWN]}"

    def _undo_wrong(self) -> None:
        answered, self.answered = self.answered, None
        if answered is not None:
            alarm, text = answered.alarm, answered.text
            self.obey(Command(0.0, CommandName.UNDO_WRONG, alarm=alarm, text=text, by="terminal"))
            self.said = f"stands after all: {alarm or text[:_SHOWN]}"

    def _type(self, key: str) -> None:
        if key in ("\r", "\n"):
            asked, text = self.asking, self.typed.strip()
            self._ask(Asking.NOTHING)
            if text:
                self._take_typed(asked, text)
        elif key == _ESCAPE:
            self._ask(Asking.NOTHING)
        elif key in _BACKSPACES:
            self.typed = self.typed[:-1]
        elif key == "\x15":
            self.typed = ""
        elif key.isprintable() and len(self.typed) + len(key) <= _LONGEST_TEXT:
            self.typed += key

    def _take_typed(self, asked: Asking, text: str) -> None:
        if asked is Asking.OWN_REPLY:
            self._reply(text)
        elif asked in (Asking.VALUE, Asking.OWN_MARK):
            self._mark_typed(f"{self.valued} {text}" if asked is Asking.VALUE else text)
        else:
            name = CommandName.NOTE if asked is Asking.NOTE else CommandName.SKIP_SEGMENT
            self._do(name, text, said=f"written: {text}")

    def _mark_typed(self, mark: str) -> None:
        """Take a mark, unless its value cannot be used: then it says what is wrong with it."""
        try:
            refuse_unusable(mark)
        except QuantityError as error:
            self.said = f"not marked: {error}"
        else:
            self._do(CommandName.MARK, mark, said=f"marked: {mark}")

    def _ask(self, asking: Asking) -> None:
        self.asking, self.typed = asking, ""

    def _do(self, name: CommandName, text: str = "", *, said: str) -> None:
        self.obey(Command(0.0, name, text=text, by="terminal"))
        self.said = said


class ReplayKeys:
    """The keys of a replay: where it stands and how fast it goes. Nothing that happened can be changed any more."""

    said = ""
    offers_much = False

    def __init__(
        self, orders: Mapping[str, Callable[[], None]], quit_replay: Callable[[], None], degrees: Degrees = CELSIUS
    ) -> None:
        """`orders` has what to call for: pause, faster, slower, back, forward, beginning."""
        self.degrees = degrees
        self._by_key = {
            " ": orders["pause"],
            "+": orders["faster"],
            "=": orders["faster"],
            "-": orders["slower"],
            "b": orders["back"],
            "\x1b[D": orders["back"],
            "\x1bOD": orders["back"],
            "f": orders["forward"],
            "\x1b[C": orders["forward"],
            "\x1bOC": orders["forward"],
            "0": orders["beginning"],
            "d": self._turn_degrees,
            "q": quit_replay,
        }

    def take(self, text: str) -> None:
        """Take what was typed."""
        for key in keys_of(text):
            self._by_key.get(key.lower() if len(key) == 1 else key, _nothing)()

    def help(self) -> list[tuple[str, str]]:
        """Give the keys."""
        return [
            ("space", "pause"),
            ("+ -", "pace"),
            ("b f", "a tenth"),
            ("0", "again"),
            ("d", "°C or °F"),
            ("q", "quit"),
        ]

    def _turn_degrees(self) -> None:
        self.degrees = Degrees(fahrenheit=not self.degrees.fahrenheit)

    def question(self) -> str:
        """A replay asks nothing."""
        return ""


def _nothing() -> None:
    """What a key does that is none."""


def keys_of(text: str) -> list[str]:
    """Split what was typed into keys; an escape sequence is one key, a lone Escape too.

    >>> keys_of("n\\x1b[C+")
    ['n', '\\x1b[C', '+']
    """
    keys: list[str] = []
    index = 0
    while index < len(text):
        end = index + 1
        if text[index] == _ESCAPE and text[end : end + 1] in ("[", "O") and len(text) > end + 1:
            end += 1
            while end < len(text) and not "@" <= text[end] <= "~":
                end += 1
            end += 1
        keys.append(text[index:end])
        index = end
    return keys
