"""What keys mean at the display: a table of single keys, and small questions at the bottom of the screen.

Gloves are on: one key does one thing, what cannot be taken back asks first, and Escape always leads back. Knows nothing
of terminals; it takes characters and gives commands.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum

from rampwarden.core.model import Command, CommandName

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
}

RAREST = ("s", "skip")
"""The key with what it does that a narrow screen leaves unnamed; it works there too."""


class Asking(Enum):
    """What the bottom line asks at the moment."""

    NOTHING = "nothing"
    NOTE = "note"
    TRANSFER = "transfer"
    MARK = "mark"
    OWN_MARK = "own mark"
    SKIP = "skip"
    QUIT = "quit"
    WRONG = "wrong"


_ASKS = {"n": Asking.NOTE, "t": Asking.TRANSFER, "m": Asking.MARK, "s": Asking.SKIP}
_LINES = {Asking.NOTE: "note", Asking.OWN_MARK: "mark, in a word", Asking.SKIP: "end this segment; why"}


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

    def take(self, text: str) -> None:
        """Take what was typed, in order; sequences of cursor keys and the like are passed over."""
        for key in keys_of(text):
            self.said = ""
            if self.asking in _LINES:
                self._type(key)
            elif self.asking is not Asking.NOTHING:
                self._answer(key)
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
                return [*named.items(), *voice, RAREST, ("q", "quit")]
            case Asking.WRONG:
                return [("1 … 9", "that alarm was wrong"), ("w", "what was said last"), ("Esc", "")]
            case Asking.TRANSFER:
                return [("y", "yes, the pot is being carried over"), ("n", "no")]
            case Asking.QUIT:
                return [("y", "stop watching (no more alarms)"), ("n", "keep watching")]
            case Asking.MARK:
                return [*MARKS.items(), ("w", "word"), ("Esc", "")]
            case _:
                return [("Enter", "keeps it"), ("Esc", "does not")]

    def question(self) -> str:
        """Give the line being typed with what it is for; empty when nothing is."""
        return f"{_LINES[self.asking]}: {self.typed}_" if self.asking in _LINES else ""

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
            case "q" | "Q":
                if self.asks_to_quit():
                    self._ask(Asking.QUIT)
                else:
                    self.quit()
            case _ if len(key) == 1 and key in "123456789":
                names = self.alarms()
                if int(key) <= len(names):
                    name = names[int(key) - 1]
                    self.obey(Command(0.0, CommandName.ACKNOWLEDGE, alarm=name, by="terminal"))
                    self.said = f"acknowledged: {name}"

    def _answer(self, key: str) -> None:
        asked, self.asking = self.asking, Asking.NOTHING
        if asked is Asking.MARK:
            if key in ("w", "W"):
                self._ask(Asking.OWN_MARK)
            elif key.lower() in MARKS:
                self._do(CommandName.MARK, MARKS[key.lower()], said=f"marked: {MARKS[key.lower()]}")
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
                name = {Asking.NOTE: CommandName.NOTE, Asking.OWN_MARK: CommandName.MARK}.get(
                    asked, CommandName.SKIP_SEGMENT
                )
                self._do(name, text, said=f"written: {text}")
        elif key == _ESCAPE:
            self._ask(Asking.NOTHING)
        elif key in _BACKSPACES:
            self.typed = self.typed[:-1]
        elif key == "\x15":
            self.typed = ""
        elif key.isprintable() and len(self.typed) + len(key) <= _LONGEST_TEXT:
            self.typed += key

    def _ask(self, asking: Asking) -> None:
        self.asking, self.typed = asking, ""

    def _do(self, name: CommandName, text: str = "", *, said: str) -> None:
        self.obey(Command(0.0, name, text=text, by="terminal"))
        self.said = said


class ReplayKeys:
    """The keys of a replay: where it stands and how fast it goes. Nothing that happened can be changed any more."""

    said = ""

    def __init__(self, orders: Mapping[str, Callable[[], None]], quit_replay: Callable[[], None]) -> None:
        """`orders` has what to call for: pause, faster, slower, back, forward, beginning."""
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
            "q": quit_replay,
        }

    def take(self, text: str) -> None:
        """Take what was typed."""
        for key in keys_of(text):
            self._by_key.get(key.lower() if len(key) == 1 else key, _nothing)()

    def help(self) -> list[tuple[str, str]]:
        """Give the keys."""
        return [("space", "pause"), ("+ -", "pace"), ("b f", "a tenth"), ("0", "again"), ("q", "quit")]

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
