"""A heat as displays see it, made without a clock or a furnace. Not a test itself."""

from collections.abc import Sequence

from rampwarden.core.heat.schedule_parsing import parse_schedule
from rampwarden.core.model import Command, CommandName, Fault, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.core.monitor_parameters import MonitorParameters
from rampwarden.core.schedule import Schedule
from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import Mode

STARTED = "2026-01-01T09:00:00Z"


def pictured_schedule() -> Schedule:
    """Drying with a limit, a soak, and a brisk ramp."""
    return parse_schedule(
        {
            "title": "A heat to look at",
            "basis": "invented for a test",
            "segment": [
                {"name": "drying", "kind": "ramp", "to": "200 C", "max_rate": "25 C / 15 min", "say": "Door ajar."},
                {"name": "dry soak", "kind": "soak", "at": "200 C", "band": ["-15 C", "+15 C"], "hold": "30 min"},
                {
                    "name": "to red heat",
                    "kind": "ramp",
                    "to": "650 C",
                    "max_rate": "30 C / 2 min",
                    "min_rate": "40 C / 5 min",
                },
            ],
        },
        "a test",
    )


class PicturedHeat:
    """A monitor and its keeper; `climb` lets the heat go on."""

    def __init__(
        self, mode: Mode = Mode.LIVE, *, crucible: str = "", has_broker: bool = False, place: str = ""
    ) -> None:
        self.schedule = pictured_schedule()
        self.monitor = Monitor(self.schedule, MonitorParameters(place=place))
        about = about_heat(self.schedule, mode, STARTED, "" if mode is Mode.REPLAY else "heats/a.jsonl", crucible)
        self.keeper = PictureKeeper(self.schedule, about, has_broker=has_broker)
        self.time_s, self.temp_c = 0.0, 20.0

    def take(self, item: Reading | Notice | Command) -> None:
        """Bring one input through monitor and keeper, as the watch does."""
        for event in self.monitor.feed(item):
            self.keeper.tell(event)
        self.keeper.follow(item, self.monitor.measurement, self.monitor.edges())

    def climb(self, to_c: float, seconds: float, every_s: float = 1.0) -> "PicturedHeat":
        """Go in a straight line to a temperature, and show where that has led."""
        steps = max(1, int(seconds / every_s))
        from_c = self.temp_c
        for step in range(1, steps + 1):
            self.time_s += every_s
            self.temp_c = from_c + (to_c - from_c) * step / steps
            self.take(Reading(self.time_s, temp_c=self.temp_c))
        return self.show()

    def show(self) -> "PicturedHeat":
        """Show where the heat stands."""
        self.keeper.show(self.monitor.status())
        return self

    def say(self, name: CommandName, text: str = "", alarm: str = "") -> None:
        """Give a person's word."""
        self.take(Command(self.time_s, name, alarm=alarm, text=text))
        self.show()

    def note_news(self, *names: NoticeName, count: int = 0, text: str = "") -> None:
        """Give news of board, record or broker."""
        for name in names:
            self.take(Notice(self.time_s, name, count, text))

    def lose_the_sensor(self, faults: Sequence[Fault] = (Fault.OPEN,)) -> None:
        """Let the thermocouple be open for ten seconds."""
        for _ in range(10):
            self.time_s += 1.0
            self.take(Reading(self.time_s, junction_c=20.0, faults=tuple(faults)))
        self.show()
