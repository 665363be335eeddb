"""Every command by name: where it is and the line it is listed with, so that a list of them imports none.

The lines are the first ones of the commands' own docstrings; a test holds them together.
"""

from collections.abc import Callable, Mapping
from enum import StrEnum
from importlib import import_module
from types import MappingProxyType
from typing import Any, NamedTuple

# A temperature below zero is an argument here, not an option.
_TAKES_NEGATIVE = {"context_settings": {"ignore_unknown_options": True}}


class When(StrEnum):
    """When a command is wanted, as a list of commands heads it; and in that order."""

    BEFORE = "Before the heat"
    DURING = "During the heat"
    AFTER = "After the heat"
    OVER_THE_LIFE = "Over the pot's life, and over many heats"
    TOOLS = "Tools"


class Listed(NamedTuple):
    """Where a command is below this package, its line in a list, under which heading, and how typer is to take it."""

    place: str
    line: str
    when: When
    options: Mapping[str, Any] = MappingProxyType({})

    def load(self) -> Callable[..., Any]:
        """Import the command: a function, or the typer application of a group."""
        module, _, attribute = self.place.rpartition(".")
        loaded: Callable[..., Any] = getattr(import_module(f"rampwarden.cli.{module}"), attribute)
        return loaded


COMMANDS: Mapping[str, Listed] = {
    "try": Listed(
        "during.try_out.try_out",
        "Try it out: a whole first heat against a model furnace in under a minute, with one mishap. Needs nothing.",
        When.BEFORE,
    ),
    "schedule": Listed(
        "before.schedules.schedules",
        "Make, check and list schedules.",
        When.BEFORE,
    ),
    "plan": Listed(
        "before.plan.plan",
        "Plan a heat: time, fuel, thermocouple and wall, one line each. Exit status 1 when something will not work.",
        When.BEFORE,
    ),
    "check": Listed(
        "before.check.check",
        "Check before lighting up whether everything a heat needs will work. Exit status 1 when something will not.",
        When.BEFORE,
    ),
    "board": Listed(
        "board.board.board",
        "Listen to a board and say what it is and what is wrong. Exit status 1 when something must be looked at.",
        When.BEFORE,
    ),
    "rehearse": Listed(
        "during.rehearse.rehearse",
        "Rehearse a heat against a model furnace: the very same service, faster. "
        "Exit status 1 when alarms were raised.",
        When.BEFORE,
    ),
    "watch": Listed(
        "during.watch.watch",
        "Watch a heat: read the board, check the schedule, ring and record until stopped.",
        When.DURING,
    ),
    "status": Listed(
        "during.status.status",
        "Show how a running watch stands: temperature, ramp, segment, and every alarm that is not normal.",
        When.DURING,
    ),
    "acknowledge": Listed(
        "during.commands.acknowledge",
        "Acknowledge an alarm: seen and being dealt with. The bell falls silent, the alarm stays until it is over.",
        When.DURING,
    ),
    "mark": Listed(
        "during.commands.mark",
        "Mark what you have just done or seen at the furnace, some marks with a value: gauge 1.2 bar.",
        When.DURING,
    ),
    "answer": Listed(
        "during.commands.answer",
        "Answer what the watch asks: the question that has waited longest, or one by its number.",
        When.DURING,
    ),
    "note": Listed(
        "during.commands.note",
        "Write a note into the heat's record.",
        When.DURING,
    ),
    "shelve": Listed(
        "during.commands.shelve",
        "Set an alarm aside for a while.",
        When.DURING,
    ),
    "unshelve": Listed(
        "during.commands.unshelve",
        "Take an alarm back that was set aside.",
        When.DURING,
    ),
    "wrong": Listed(
        "during.commands.wrong",
        "Say that the watch was wrong: what it said is withdrawn. What protects the pot rings again if it grows worse.",
        When.DURING,
    ),
    "skip-segment": Listed(
        "during.commands.skip_segment",
        "End the present segment on your word and go on with the next.",
        When.DURING,
    ),
    "end-heat": Listed(
        "during.commands.end_heat",
        "End the heat on your word: no schedule any more. Readings are still recorded until the watch is stopped.",
        When.DURING,
    ),
    "spot": Listed(
        "during.spot.spot",
        "Correct a spot thermometer's reading, and say which to doubt if the thermocouple disagrees (exit status 1).",
        When.DURING,
    ),
    "listen": Listed(
        "during.listen.listen",
        "Show every furnace on a broker: temperature, ramp, segment, alarms, and how old that is. Rings for alarms.",
        When.DURING,
    ),
    "report": Listed(
        "after.report.report",
        "Report a heat: drawing, verdict in plain words, what the crucible is ready for and what to look at.",
        When.AFTER,
    ),
    "tell": Listed(
        "after.tell.tell",
        "Tell the next shift about a heat, in five lines: pot, heat, what broke, how it was left, what to do.",
        When.AFTER,
    ),
    "replay": Listed(
        "after.replay.replay",
        "Replay records and show what the watch says about them. Exit status 1 when alarms were raised.",
        When.AFTER,
    ),
    "export": Listed(
        "after.export.export",
        "Write a record's readings as CSV, converted by the reference function; or what was wrong as a case.",
        When.AFTER,
    ),
    "crucible": Listed(
        "crucibles.crucible.crucible",
        "Register crucibles, and see what their heats did to them.",
        When.OVER_THE_LIFE,
    ),
    "heats": Listed(
        "after.heats.heats",
        "Look back over every heat that was kept: list, compare, see trends.",
        When.OVER_THE_LIFE,
    ),
    "settings": Listed(
        "before.show_settings.show_settings",
        "Print the effective settings and where each came from.",
        When.TOOLS,
    ),
    "convert": Listed(
        "before.convert.convert",
        "Convert thermocouple EMF to temperature by the ITS-90 reference function (NIST Monograph 175, IEC 60584-1).",
        When.TOOLS,
        options=_TAKES_NEGATIVE,
    ),
    "install-service": Listed(
        "before.install_service.install_service",
        "Show what makes the watch a service of this system (systemd), and with --yes do it.",
        When.TOOLS,
    ),
    "doctor": Listed(
        "before.doctor.doctor",
        "Collect what somebody asked for help needs to see into one file: versions, settings, counters, last lines.",
        When.TOOLS,
    ),
}
