"""`rampwarden install-service`: the watch as a service of the system, every file and command said before it is done.

What is written stands in the folder `shipped` beside this package, which is the project's own config/. Files that are
ours are replaced; settings, variables and schedules that are there already are somebody's work and are left alone.
"""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Annotated

import typer

from rampwarden.cli.exit_status import FINE, FOUND_SOMETHING
from rampwarden.errors import RampwardenError

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")
_PROGRAM_IN_UNIT = "/usr/local/bin/rampwarden"
# What the unit's ProtectHome and PrivateTmp hide from it.
_HIDDEN_FROM_UNIT = (Path("/home"), Path("/root"), Path("/run/user"), Path("/tmp"), Path("/var/tmp"))
_COMMAND_PATIENCE_S = 60.0


@dataclass(frozen=True, slots=True)
class _File:
    """A file to be written; one that is `theirs` is written only where there is none."""

    path: Path
    text: str
    theirs: bool

    def plan(self) -> str:
        """Say what would become of it."""
        try:
            present = self.path.read_text(encoding="utf-8")
        except (FileNotFoundError, NotADirectoryError):
            return "write"
        except UnicodeDecodeError:
            present = ""
        if present == self.text:
            return "is there"
        return "keep yours" if self.theirs else "replace"

    def write(self) -> None:
        """Write it whole or not at all."""
        self.path.parent.mkdir(parents=True, exist_ok=True)
        unready = self.path.with_name(f".{self.path.name}.new")
        unready.write_text(self.text, encoding="utf-8")
        unready.chmod(0o644)
        unready.replace(self.path)


def install_service(
    name: Annotated[
        str, typer.Argument(help="The watch's name: its settings are /etc/rampwarden/NAME.toml.")
    ] = "furnace-1",
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without this it is only shown.")] = False,
    root: Annotated[Path, typer.Option(help="Write below this folder, and run no command.")] = Path("/"),
) -> int:
    """Show what makes the watch a service of this system (systemd), and with --yes do it."""
    if not _NAME.fullmatch(name):
        raise RampwardenError(f"{name!r} is no name for a service: at most 40 letters, digits, dots, _ and -")
    if yes and root == Path("/") and os.geteuid() != 0:
        raise RampwardenError("only root may install a service; try: sudo rampwarden install-service --yes")
    program = Path(sys.executable).with_name("rampwarden")
    for file in _files(name, program, root):
        try:
            plan = file.plan()
            if yes and plan in ("write", "replace"):
                file.write()
        except OSError as error:
            raise RampwardenError(f"{file.path}: cannot write: {error.strerror}") from error
        print(f"{plan:<10}  {file.path}")
    status = FINE
    for command in _commands(name):
        print(f"{'run' if root == Path('/') else 'left out':<10}  {' '.join(command)}")
        if yes and root == Path("/") and not _run(command):
            status = FOUND_SOMETHING
    for line in _what_next(name, program, done=yes):
        print(line)
    return status


def _files(name: str, program: Path, root: Path) -> Iterator[_File]:
    shipped, etc = files("rampwarden") / "shipped", root / "etc"
    units = shipped / "systemd"
    unit = (units / "rampwarden@.service").read_text(encoding="utf-8").replace(_PROGRAM_IN_UNIT, str(program))
    yield _File(etc / "systemd/system/rampwarden@.service", unit, theirs=False)
    for kind in ("sysusers", "modules-load"):
        text = (units / f"rampwarden.{kind}.conf").read_text(encoding="utf-8")
        yield _File(etc / f"{kind}.d/rampwarden.conf", text, theirs=False)
    rules = (shipped / "udev/60-rampwarden-board.rules").read_text(encoding="utf-8")
    # Theirs: it does nothing until somebody has written their adapter's numbers into it.
    yield _File(etc / "udev/rules.d/60-rampwarden-board.rules", rules, theirs=True)
    # Absolute, so that whoever checks or replays from elsewhere means the same folder.
    records = f'records = "/var/lib/rampwarden/{name}/heats"'
    settings = (shipped / "rampwarden.toml").read_text(encoding="utf-8").replace('records = "heats"', records)
    yield _File(etc / f"rampwarden/{name}.toml", settings, theirs=True)
    variables = (units / "rampwarden.env").read_text(encoding="utf-8")
    yield _File(etc / f"rampwarden/{name}.env", variables, theirs=True)
    for schedule in sorted((shipped / "schedules").iterdir(), key=lambda each: each.name):
        yield _File(etc / "rampwarden/schedules" / schedule.name, schedule.read_text(encoding="utf-8"), theirs=True)


def _commands(name: str) -> list[list[str]]:
    return [
        ["systemd-sysusers", "/etc/sysusers.d/rampwarden.conf"],
        # The service would make it at its first start; whoever checks before that needs it now.
        ["install", "--directory", "--owner=rampwarden", "--group=rampwarden", f"/var/lib/rampwarden/{name}"],
        ["systemctl", "daemon-reload"],
        # Fails where a driver is missing; the others are loaded all the same.
        ["systemctl", "restart", "systemd-modules-load.service"],
        ["systemctl", "enable", f"rampwarden@{name}.service"],
    ]


def _run(command: list[str]) -> bool:
    try:
        done = subprocess.run(command, check=False, stdin=subprocess.DEVNULL, timeout=_COMMAND_PATIENCE_S)
    except FileNotFoundError:
        print(f"{'':<10}  look again: there is no {command[0]} on this system")
        return False
    except subprocess.TimeoutExpired:
        print(f"{'':<10}  look again: not done after {_COMMAND_PATIENCE_S:.0f} s")
        return False
    if done.returncode:
        print(f"{'':<10}  look again: it ended with exit status {done.returncode}")
    return done.returncode == 0


def _what_next(name: str, program: Path, *, done: bool) -> Iterator[str]:
    for place in _HIDDEN_FROM_UNIT:
        if program.is_relative_to(place):
            yield f"look again: the service sees nothing in {place}, so not {program}: install the program elsewhere"
    if not done:
        yield "Nothing has been done. Do it with: sudo rampwarden install-service --yes"
        return
    yield f"Now write port and schedule into /etc/rampwarden/{name}.toml, and before lighting up:"
    yield f"  sudo -u rampwarden rampwarden check --config /etc/rampwarden/{name}.toml"
    yield f"  sudo systemctl start rampwarden@{name}"
    yield "Who may acknowledge from a terminal: usermod --append --groups rampwarden USER"
