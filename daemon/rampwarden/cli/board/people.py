"""Who walks through a bring-up: a person at a terminal, or, in a rehearsal, a model of one with a model board."""

import shutil
import sys
import textwrap

import typer

from rampwarden.bench import Step
from rampwarden.sources import ROOM_C, BenchBoard, BenchSurroundings
from rampwarden.terminal_text import printable

_HAND_C = 33.0  # a closed hand
_REHEARSED_MV = 20.644  # 500 °C of type K, NIST Monograph 175

_SURROUNDINGS = {
    Step.SHORT: BenchSurroundings(input_uv=0.0),
    Step.OPEN: BenchSurroundings(is_open=True),
    Step.HAND: BenchSurroundings(tip_c=ROOM_C),
    Step.ICE: BenchSurroundings(tip_c=0.0),
    Step.STEAM: BenchSurroundings(tip_c=99.97),
    Step.MILLIVOLTS: BenchSurroundings(input_uv=1e3 * _REHEARSED_MV),
}


class ConsolePerson:
    """Asks on standard error, so that standard output holds the result alone; answers come from standard input."""

    def tell(self, text: str) -> None:
        """Write it, broken to the width of the terminal."""
        self._clear()
        print(_broken(text), file=sys.stderr, flush=True)

    def ready(self, step: Step, text: str) -> bool:
        """Wait for Enter; an answer that begins with s leaves the step out."""
        self._clear()
        print(file=sys.stderr)
        answer = self._answer(f"{_broken(text)}\n    Enter when that is done, s to leave it out: ")
        return not answer.lower().startswith("s")

    def number(self, text: str, usual: float) -> float:
        """Ask until it is a number; Enter takes the usual."""
        while True:
            answer = self._answer(f"    {text} [{usual:g}] ").replace(",", ".")
            if not answer:
                return usual
            try:
                return float(answer)
            except ValueError:
                self.tell(f"    {answer!r} is no number")

    def watch(self, text: str) -> None:
        """Show on a terminal what is being waited for, always in one line."""
        if sys.stderr.isatty():
            print(f"\r\x1b[K    {printable(text)}", end="", file=sys.stderr, flush=True)

    def _clear(self) -> None:
        if sys.stderr.isatty():
            print("\r\x1b[K", end="", file=sys.stderr)

    def _answer(self, prompt: str) -> str:
        print(prompt, end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise typer.Abort
        return line.strip()


class ModelPerson:
    """Does to a model board whatever is asked, at once, and says so."""

    def __init__(self, model: BenchBoard) -> None:
        self._model = model
        self._step: Step | None = None

    def tell(self, text: str) -> None:
        """Write it, broken to the width of the terminal."""
        print(_broken(text), file=sys.stderr, flush=True)

    def ready(self, step: Step, text: str) -> bool:
        """Do it: asked a second time within a step, the tip goes into the hand."""
        again = step is self._step
        self._step = step
        self._model.at = BenchSurroundings(tip_c=_HAND_C) if again and step is Step.HAND else _SURROUNDINGS[step]
        self.tell(text if again else f"\n{text}")
        return True

    def number(self, text: str, usual: float) -> float:
        """Take the usual one."""
        return usual

    def watch(self, text: str) -> None:
        """Nobody looks."""


def _broken(text: str) -> str:
    """Break every line at words, what follows as far in as it began."""
    width = min(100, max(40, shutil.get_terminal_size().columns - 1))
    lines = []
    for line in text.split("\n"):
        margin = " " * (len(line) - len(line.lstrip()))
        lines += textwrap.wrap(printable(line), width, subsequent_indent=margin, drop_whitespace=True) or [""]
    return "\n".join(lines)
