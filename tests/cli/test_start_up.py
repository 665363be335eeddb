"""A command loads what it uses: the heavy packages each may import are listed, since all of them are felt at a prompt.

So are three rooms of our own: the catalogue with all that judges, the monitor, and the tree of settings.

Processor time itself is measured by `make bench-startup`.
"""

import subprocess
import sys
from pathlib import Path

import pytest
import typer

from command_line import environment, run_process
from rampwarden.cli.menu import COMMANDS, When
from rampwarden.cli.plain_calls import plain_call

HEAVY = (
    "asyncio",
    "distributed",
    "matplotlib",
    "numpy",
    "paho",
    "prometheus_client",
    "pydantic_settings",
    "rampwarden.core.catalogue",
    "rampwarden.core.monitor",
    "rampwarden.settings.sections",
    "rich",
    "serial",
    "sqlite3",
    "structlog",
    "typer",
    "uvicorn",
)
# structlog brings asyncio along, and rich where it is let (`plain_logs`).
WATCH = (
    "asyncio rampwarden.core.catalogue rampwarden.core.monitor rampwarden.settings.sections serial sqlite3 structlog"
)
_LOADED = f"""
import atexit, sys
atexit.register(lambda: sys.stderr.write("\\nloaded " + " ".join(name for name in {HEAVY} if name in sys.modules)))
from rampwarden.cli import run
run()
"""


def loaded(folder: Path, *arguments: str) -> set[str]:
    """Give which of the heavy packages a command has loaded when it ends."""
    done = subprocess.run(
        [sys.executable, "-c", _LOADED, *arguments],
        check=False,
        capture_output=True,
        text=True,
        cwd=folder,
        env=environment(folder),
        timeout=60,
    )
    kind, *names = done.stderr.splitlines()[-1].split()
    assert kind == "loaded", done.stderr
    return set(names)


@pytest.mark.parametrize(
    ("command", "allowed"),
    [
        ("--version", ""),
        ("--help", "rich typer"),
        ("convert 4096", "typer"),
        ("status", ""),
        ("status --json", "typer"),
        ("acknowledge", ""),
        ("acknowledge ramp-high", ""),
        ("note two words", ""),
        ("mark lid-open", ""),
        ("shelve ramp-high 5", "typer"),
        ("schedule list", "typer"),
        ("plan bronze-first-heat", "rampwarden.settings.sections sqlite3 typer"),
        ("crucible list", "rampwarden.settings.sections sqlite3 typer"),
        (
            "replay none.jsonl",
            "rampwarden.settings.sections rampwarden.core.catalogue rampwarden.core.monitor sqlite3 typer",
        ),
        ("heats list", "rampwarden.settings.sections sqlite3 typer"),
        ("settings", "rampwarden.settings.sections typer"),
        ("watch none.toml --port /dev/none", f"{WATCH} typer"),
    ],
)
def test_a_command_loads_no_more_than_it_uses(command: str, allowed: str, tmp_path: Path) -> None:
    """A package that is not listed here came in by a side door."""
    assert loaded(tmp_path, *command.split()) <= set(allowed.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_is_listed_with_its_own_first_line(name: str) -> None:
    """The list does not import the commands, so it says their lines itself."""
    command = COMMANDS[name].load()
    said = command.info.help if isinstance(command, typer.Typer) else command.__doc__
    assert COMMANDS[name].line == said.partition("\n")[0]


def test_an_option_before_the_command_does_not_hide_it(tmp_path: Path) -> None:
    """What stands for a command in the list does nothing, so it must never be what is called."""
    assert run_process(tmp_path, "--", "convert", "4096").output == "99.994 °C\n"


@pytest.mark.parametrize(
    "arguments",
    [["status"], ["acknowledge"], ["acknowledge", "x"], ["note", "a", "b"], ["mark", "x"], ["mark", "x", "2"]],
)
def test_a_plain_call_and_the_full_one_say_the_same(arguments: list[str], tmp_path: Path) -> None:
    """The shortcut past options and help changes no word of an answer."""
    plain, full = run_process(tmp_path, *arguments), run_process(tmp_path, *arguments, "--watch", "")
    assert plain == full
    assert "no watch is running" in plain.errors


@pytest.mark.parametrize(
    "arguments",
    [[], ["status", "-h"], ["acknowledge", "a", "b"], ["note"], ["mark"], ["shelve", "a"]],
)
def test_a_mistake_or_a_call_for_help_is_no_plain_call(arguments: list[str]) -> None:
    """They are left to what knows all commands and options."""
    assert plain_call(arguments) is None


def test_commands_are_listed_by_when_they_are_wanted() -> None:
    """Before, during and after a heat, over the life, tools: in that order, and none of these is empty."""
    headings = [listed.when for listed in COMMANDS.values()]
    assert list(dict.fromkeys(headings)) == list(When)
    assert headings == sorted(headings, key=list(When).index)


def test_a_choice_that_is_missing_is_asked_for_in_one_line(tmp_path: Path) -> None:
    """With every choice there is, and no sign that stands for a tab."""
    told = run_process(tmp_path, "crucible", "add", "A3").errors
    assert told.startswith("rampwarden: Missing option '--class'. Choose from: clay-graphite, ")
    assert told.count("\n") == 1
    assert "\ufffd" not in told
