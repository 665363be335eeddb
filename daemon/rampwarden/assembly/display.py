"""Puts the terminal's display together: which terminal, what it can, which keys.

A display is another output of the watch, and costs only itself when it fails. Signals that have to do with a terminal
are taken here: only a display needs them.
"""

import os
import signal
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from types import FrameType, MappingProxyType
from typing import TYPE_CHECKING

from rampwarden.core.model import Command, Notice, OpenQuestion
from rampwarden.log_setup import RecentLines
from rampwarden.outputs.worker import tell_nobody
from rampwarden.picture import Mode, PictureKeeper
from rampwarden.playback import Order

if TYPE_CHECKING:
    from rampwarden.display import Abilities, Display, Keys


@dataclass(frozen=True, slots=True)
class DisplayTerminal:
    """The terminal that a display can be drawn on, as it was found; `keyboard` is None where nobody can type."""

    output: int
    keyboard: int | None
    encoding: str
    colour: bool
    abilities: "Abilities"


def display_terminal(environment: Mapping[str, str], *, plain: bool) -> DisplayTerminal | None:
    """Give the terminal for a display; None where lines are wanted, or are all that can be had.

    That is so with `plain`, when standard output is no terminal or belongs to a shell at the moment, and when the
    terminal's kind (TERM) is not known or cannot place its cursor.
    """
    if plain or not sys.stdout.isatty():
        return None
    from rampwarden.display import terminal_abilities  # noqa: PLC0415 (plain lines do without)

    output = sys.stdout.fileno()
    abilities = terminal_abilities(environment.get("TERM", ""), output)
    if abilities is None or _is_in_background(output):
        return None
    return DisplayTerminal(
        output=output,
        keyboard=sys.stdin.fileno() if sys.stdin.isatty() else None,
        encoding=_encoding(environment),
        # https://no-color.org: set and not empty, whatever it is set to.
        colour=abilities.colours >= 8 and not environment.get("NO_COLOR"),
        abilities=abilities,
    )


@contextmanager
def showing(
    terminal: DisplayTerminal,
    keeper: PictureKeeper,
    keys: "Keys",
    recent: RecentLines,
    hear: Callable[[Notice], None] = tell_nobody,
) -> Iterator["Display"]:
    """Show a keeper's picture on a terminal, and give the terminal back as it was, whatever happens meanwhile."""
    from rampwarden.display import (  # noqa: PLC0415
        Display,
        Looks,
        TerminalScreen,
        has_blocks,
    )

    screen = TerminalScreen(terminal.output, terminal.keyboard, terminal.abilities)
    looks = Looks(terminal.encoding, has_blocks(terminal.encoding), terminal.colour)
    display = Display(screen, keeper, looks, keys, recent)
    display.start(hear)
    try:
        with _job_control(display):
            yield display
    finally:
        display.close()


def watch_keys(
    keeper: PictureKeeper,
    obey: Callable[[Command], None],
    quit_watch: Callable[[], None],
    say_state: Callable[[], object] | None = None,
    *,
    fahrenheit: bool = False,
    own: Mapping[str, str] = MappingProxyType({}),
) -> "Keys":
    """Give the keys of a watch: a live heat's end is asked about, a rehearsal's is not. `say_state` is its voice's."""
    from rampwarden.display import Degrees, WatchKeys  # noqa: PLC0415 (plain lines do without)

    def heat_runs() -> bool:
        picture = keeper.picture()
        return picture.about.mode is Mode.LIVE and picture.status.segment is not None

    def newest() -> tuple[str, str]:
        said = keeper.picture().newest_statement
        return ("", "") if said is None else (said.alarm, said.text)

    def standing() -> list[str]:
        return [alarm.alarm for alarm in keeper.picture().alarms]

    def questions() -> tuple[OpenQuestion, ...]:
        return keeper.picture().status.questions

    return WatchKeys(
        obey,
        quit_watch,
        standing,
        heat_runs,
        newest,
        say_state=say_state,
        degrees=Degrees(fahrenheit=fahrenheit),
        questions=questions,
        own=own,
    )


def replay_keys(order: Callable[[Order], None], quit_replay: Callable[[], None], *, fahrenheit: bool = False) -> "Keys":
    """Give the keys of a replay."""
    from rampwarden.display import Degrees, ReplayKeys  # noqa: PLC0415 (plain lines do without)

    orders = {each.name.lower(): partial(order, each) for each in Order}
    return ReplayKeys(orders, quit_replay, Degrees(fahrenheit=fahrenheit))


@contextmanager
def _job_control(display: "Display") -> Iterator[None]:
    """Leave a usable terminal to the shell while the process is halted, and come back to it afterwards."""

    def halt(_number: int, _frame: FrameType | None) -> None:
        display.pause()
        signal.signal(signal.SIGTSTP, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGTSTP)

    def go_on(_number: int, _frame: FrameType | None) -> None:
        signal.signal(signal.SIGTSTP, halt)
        display.resume()

    before = {number: signal.getsignal(number) for number in (signal.SIGTSTP, signal.SIGCONT, signal.SIGTTOU)}
    signal.signal(signal.SIGTSTP, halt)
    signal.signal(signal.SIGCONT, go_on)
    # To set a terminal right that a shell has meanwhile taken must not halt the watch.
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _is_in_background(descriptor: int) -> bool:
    try:
        return os.tcgetpgrp(descriptor) != os.getpgrp()
    except OSError:
        # Not the terminal that controls us: nobody can put us in its background.
        return False


def _encoding(environment: Mapping[str, str]) -> str:
    """Give what the terminal is told to understand.

    Standard output's own encoding is no witness where the locale is C: the interpreter then writes UTF-8 all the same.
    """
    locale = environment.get("LC_ALL") or environment.get("LC_CTYPE") or environment.get("LANG") or ""
    own = sys.stdout.encoding.lower()
    if own == "utf-8" and "utf" not in locale.lower():
        return "ascii"
    return own
