"""`rampwarden listen`: every furnace on a broker, at one terminal."""

import contextlib
import os
import socket
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from rampwarden.assembly.mqtt import broker_access
from rampwarden.cli.before.show_settings import ConfigOption
from rampwarden.cli.during.listen_screen import ListenScreen
from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.core.model import CommandName, Event
from rampwarden.errors import SettingsError
from rampwarden.outputs.bell import Bell
from rampwarden.outputs.mqtt import DEVICE_ID
from rampwarden.settings import load_settings
from rampwarden.shop import CommandAnswer, LinkChange, Listener, ShopBell, line_of
from rampwarden.terminal_text import printable

_PATIENCE_S = 0.25
_LOOKED_EVERY_S = 1.0
_ANSWER_WITHIN_S = 5.0


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
    device, _, alarm = (acknowledge or "+").partition(":")
    if acknowledge is not None and not DEVICE_ID.fullmatch(device):
        raise SettingsError(f"--acknowledge: {printable(device[:60])!r} is no name of a furnace, such as furnace-1")
    make = Listener(access.brokers, access.parameters, prefix or "+", f"listen on {who}", only=device)
    with contextlib.closing(make) as listener:
        if acknowledge is not None:
            return _acknowledge(listener, device, alarm)
        with _bell(wanted=bell) as tell:
            console = Console()
            if console.is_terminal and not console.is_dumb_terminal:
                ListenScreen(console, listener, ShopBell(tell)).run()
            else:
                _write_lines(listener, ShopBell(tell))
    return FINE


@contextlib.contextmanager
def _bell(*, wanted: bool) -> Iterator[Callable[[Event], None]]:
    if not wanted or not sys.stdout.isatty():
        yield lambda _event: None
        return
    with contextlib.closing(Bell(sys.stdout.fileno())) as bell:
        bell.start()
        yield bell.tell


def _acknowledge(listener: Listener, device: str, alarm: str) -> int:
    """Send one acknowledgement and say what became of it."""
    deadline_s = time.monotonic() + _ANSWER_WITHIN_S
    sent = False
    while time.monotonic() < deadline_s:
        for change in listener.poll(_PATIENCE_S):
            if isinstance(change, CommandAnswer):
                typer.echo(printable(change.text))
                return FINE if '"taken":true' in change.text else FOUND_SOMETHING
        furnace = listener.shop.find(device)
        if furnace is not None and furnace.described and not sent:
            why_not = listener.command(furnace, CommandName.ACKNOWLEDGE, alarm=alarm)
            if why_not:
                typer.echo(why_not, err=True)
                return FOUND_SOMETHING
            sent = True
    typer.echo(f"no answer from {device}" if sent else f"no furnace {device} on this broker", err=True)
    return FOUND_SOMETHING


def _write_lines(listener: Listener, bell: ShopBell) -> None:
    """Write one line a change until interrupted, and one for what is missing: for a log, or a pipe."""
    trouble, due_s = "", 0.0
    lacking: list[str] = []
    while True:
        lines = []
        for change in listener.poll(_PATIENCE_S):
            if isinstance(change, LinkChange):
                trouble = "" if change.is_up else change.text
            lines.append(line_of(change))
        now_s = time.monotonic()
        if now_s >= due_s:
            due_s = now_s + _LOOKED_EVERY_S
            bell.look(listener.shop.furnaces, now_s, trouble)
            missing = listener.lacking() if not listener.asked else lacking
            lines += [sentence for sentence in missing if sentence not in lacking]
            lacking = missing
        for line in filter(None, lines):
            print(f"{datetime.now():%H:%M:%S} {line}", flush=True)
