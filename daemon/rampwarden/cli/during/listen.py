"""`rampwarden listen`: every furnace on a broker, at one terminal."""

import contextlib
import os
import re
import select
import socket
import sys
import termios
import time
import tty
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.live import Live

from rampwarden.assembly.mqtt import broker_access
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.core.model import CommandName, Event
from rampwarden.errors import SettingsError
from rampwarden.outputs.bell import Bell
from rampwarden.settings import load_settings
from rampwarden.shop import (
    Change,
    ChangeKind,
    CommandAnswer,
    Furnace,
    LinkChange,
    Listener,
    ShopBell,
    draw,
    in_order,
    printable,
)

# Drawn once a second: more would show nothing new and cost a core as the shop grows.
_DRAWN_EVERY_S = 1.0
_PATIENCE_S = 0.25
_ANSWER_WITHIN_S = 5.0
_ARROWS = {"\x1b[A": "up", "\x1b[B": "down", "k": "up", "j": "down"}
_KEYS = "↑ ↓ choose · a acknowledges all of its alarms · q ends"


def listen(
    broker: Annotated[str | None, typer.Option(help="Broker: name or name:port; several with commas.")] = None,
    prefix: Annotated[str | None, typer.Option(help="First level of the topics; default: whatever there is.")] = None,
    tls: Annotated[bool | None, typer.Option("--tls/--no-tls", help="Encrypt, and verify the broker.")] = None,
    ca_file: Annotated[Path | None, typer.Option(help="Whom to trust (PEM); default: as the system does.")] = None,
    user: Annotated[str | None, typer.Option(help="User at the broker.")] = None,
    password_file: Annotated[Path | None, typer.Option(help="File with the user's password.")] = None,
    allow_plain_text: Annotated[
        bool | None, typer.Option("--allow-plain-text", help="In the clear to another computer.")
    ] = None,
    acknowledge: Annotated[
        str | None, typer.Option(metavar="FURNACE[:ALARM]", help="Acknowledge there, wait for the answer, and end.")
    ] = None,
    bell: Annotated[bool, typer.Option("--bell/--no-bell", help="Ring for alarms.")] = True,
    config: ConfigOption = None,
) -> int:
    """Show every furnace on a broker: temperature, ramp, segment, alarms, and how old that is. Rings for alarms."""
    flags = {
        "mqtt.broker": broker,
        "mqtt.tls": tls,
        "mqtt.ca_file": ca_file,
        "mqtt.user": user,
        "mqtt.password_file": password_file,
        "mqtt.allow_plain_text": allow_plain_text,
    }
    section = load_settings(config, flags, os.environ).settings.mqtt
    who = f"{socket.gethostname()}-{os.getpid()}".lower()
    access = broker_access(section, f"listen-{who}", os.environ)
    if access is None:
        raise SettingsError("mqtt.broker: no broker to listen at; give --broker, or broker in the [mqtt] section")
    with contextlib.closing(Listener(access.brokers, access.parameters, prefix or "+", f"listen on {who}")) as listener:
        if acknowledge is not None:
            return _acknowledge(listener, acknowledge)
        with _bell(wanted=bell) as tell:
            console = Console()
            if console.is_terminal and not console.is_dumb_terminal:
                _Screen(console, listener, ShopBell(tell)).run()
            else:
                _write_lines(listener)
    return FINE


@contextlib.contextmanager
def _bell(*, wanted: bool) -> Iterator[Callable[[Event], None]]:
    if not wanted or not sys.stdout.isatty():
        yield lambda _event: None
        return
    with contextlib.closing(Bell(sys.stdout.fileno())) as bell:
        bell.start()
        yield bell.tell


def _acknowledge(listener: Listener, what: str) -> int:
    """Send one acknowledgement and say what became of it."""
    device, _, alarm = what.partition(":")
    deadline_s = time.monotonic() + _ANSWER_WITHIN_S
    sent = False
    while time.monotonic() < deadline_s:
        for change in listener.poll(_PATIENCE_S):
            if isinstance(change, CommandAnswer):
                typer.echo(printable(change.text))
                return FINE if '"taken":true' in change.text else FOUND_SOMETHING
        furnace = listener.shop.find(device)
        if furnace is not None and not sent:
            why_not = listener.command(furnace, CommandName.ACKNOWLEDGE, alarm=alarm)
            if why_not:
                typer.echo(why_not, err=True)
                return FOUND_SOMETHING
            sent = True
    typer.echo(f"no answer from {device}" if sent else f"no furnace {device} on this broker", err=True)
    return FOUND_SOMETHING


def _write_lines(listener: Listener) -> None:
    """Write one line a change until interrupted: for a log, or a pipe."""
    while True:
        for change in listener.poll(_PATIENCE_S):
            line = _line(change)
            if line:
                print(f"{datetime.now():%H:%M:%S} {line}", flush=True)


def _line(change: Change | LinkChange | CommandAnswer) -> str:
    if isinstance(change, LinkChange):
        return f"listening at {change.text}" if change.is_up else f"hearing nobody: {printable(change.text)}"
    if isinstance(change, CommandAnswer):
        return printable(change.text)
    if change.kind in (ChangeKind.FOUND, ChangeKind.ALARMS):
        return ""
    return f"{change.furnace.title}  {printable(change.text)}"


class _Screen:
    """The overview on a whole terminal, with keys."""

    def __init__(self, console: Console, listener: Listener, bell: ShopBell) -> None:
        self._console = console
        self._listener = listener
        self._bell = bell
        self._trouble = "no connection yet"
        self._last_word = ""
        self._chosen = ""
        self._keys = sys.stdin.isatty()
        self._help = _KEYS if self._keys else "Ctrl-C ends"

    def run(self) -> None:
        """Show until somebody ends it."""
        console = self._console
        with _cbreak(wanted=self._keys), Live(console=console, screen=True, auto_refresh=False) as live:
            due_s = 0.0
            while True:
                urgent = self._take(self._listener.poll(_PATIENCE_S))
                now_s = time.monotonic()
                keys = _pressed(wanted=self._keys)
                if "q" in keys:
                    return
                for key in keys:
                    self._press(key)
                furnaces = self._listener.shop.furnaces
                self._bell.look(furnaces, now_s, self._trouble)
                if urgent or keys or now_s >= due_s:
                    due_s = now_s + _DRAWN_EVERY_S
                    count = f"{len(furnaces)} furnace{'' if len(furnaces) == 1 else 's'}"
                    title = " · ".join((count, self._trouble or "listening", f"{datetime.now():%H:%M:%S}", self._help))
                    width, height = console.size
                    picture = draw(furnaces, now_s, width, height, title, self._last_word, self._chosen)
                    live.update(picture, refresh=True)

    def _take(self, changes: list[Change | LinkChange | CommandAnswer]) -> bool:
        """Take note of changes; gives whether one of them should be seen at once."""
        urgent = False
        for change in changes:
            if isinstance(change, LinkChange):
                self._trouble = "" if change.is_up else f"hearing nobody: {printable(change.text)}"
            else:
                self._last_word = _line(change) or self._last_word
            urgent = urgent or isinstance(change, LinkChange) or "alarm" in getattr(change, "text", "")
        return urgent

    def _press(self, key: str) -> None:
        """Do what a key asks."""
        rows = in_order(self._listener.shop.furnaces, time.monotonic())
        chosen = next((index for index, furnace in enumerate(rows) if furnace.base == self._chosen), -1)
        if key in ("up", "down") and rows:
            chosen = max(0, min(len(rows) - 1, chosen + (1 if key == "down" else -1)))
            self._chosen = rows[chosen].base
        elif key == "a" and chosen >= 0:
            self._acknowledge(rows[chosen])
        elif key == "a":
            self._last_word = "choose a furnace first, with the arrow keys"

    def _acknowledge(self, furnace: Furnace) -> None:
        why_not = self._listener.command(furnace, CommandName.ACKNOWLEDGE)
        self._last_word = why_not or f"acknowledgement sent to {furnace.device}"


@contextlib.contextmanager
def _cbreak(*, wanted: bool) -> Iterator[None]:
    """Let keys come one by one, and leave the terminal as it was."""
    if not wanted:
        yield
        return
    before = termios.tcgetattr(sys.stdin)
    try:
        tty.setcbreak(sys.stdin)
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def _pressed(*, wanted: bool) -> list[str]:
    """Give the keys pressed since the last look."""
    if not wanted or not select.select([sys.stdin], [], [], 0)[0]:
        return []
    data = os.read(sys.stdin.fileno(), 256)
    if not data:
        return ["q"]
    return [_ARROWS.get(key, key) for key in re.findall(r"\x1b\[[A-D]|[^\x1b]", data.decode(errors="replace"))]
