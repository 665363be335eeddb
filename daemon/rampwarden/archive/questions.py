"""What is asked of many heats: which there are, and how what they came to goes over pots, furnaces, schedules, months.

All of it is one query of one flat table, the same words for index and server.
"""

from dataclasses import dataclass
from enum import StrEnum

import msgspec
from msgspec import Struct

from rampwarden.archive.archived_heat import HeatRow
from rampwarden.archive.keeping import COLUMNS, row_from
from rampwarden.database import Database, Value


class Grouping(StrEnum):
    """What a trend goes over."""

    POT = "pot"
    FURNACE = "furnace"
    SCHEDULE = "schedule"
    MONTH = "month"


_COLUMN = {Grouping.POT: "mark", Grouping.FURNACE: "furnace", Grouping.SCHEDULE: "schedule", Grouping.MONTH: "month"}


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which heats are meant; empty chooses all. Days are ISO 8601, the last one counts to its end.

    Rehearsals, and watches in which nothing was ever warm, are left out unless they are asked for.
    """

    furnace: str = ""
    mark: str = ""
    schedule: str = ""
    metal: str = ""
    alarm: str = ""
    since: str = ""
    until: str = ""
    with_rehearsals: bool = False
    with_false_starts: bool = False

    def condition(self) -> tuple[str, dict[str, Value]]:
        """Give it as a condition with its values."""
        parts, values = ["1 = 1"], dict[str, Value]()
        for name in ("furnace", "metal"):
            if wanted := getattr(self, name):
                parts.append(f"{name} = :{name}")
                values[name] = wanted
        if self.mark:
            # A mark is the same written large or small.
            parts.append("lower(mark) = lower(:mark)")
            values["mark"] = self.mark
        if self.schedule:
            parts.append("lower(schedule) LIKE :schedule ESCAPE '!'")
            values["schedule"] = f"%{_literal(self.schedule.lower())}%"
        if self.alarm:
            parts.append("' ' || alarm_names || ' ' LIKE :alarm ESCAPE '!'")
            values["alarm"] = f"% {_literal(self.alarm)} %"
        if self.since:
            parts.append("started >= :since")
            values["since"] = self.since
        if self.until:
            parts.append("substr(started, 1, 10) <= :until")
            values["until"] = self.until[:10]
        if not self.with_rehearsals:
            parts.append("rehearsal = 0")
        if not self.with_false_starts:
            parts.append("was_heat = 1")
        return " AND ".join(parts), values


class TrendRow(Struct, frozen=True):
    """What the heats of one pot, furnace, schedule or month come to; means are of those heats that have the figure."""

    name: str
    heats: int
    alarms: int
    over_min: float
    dose_min: float
    hours: float
    highest_c: float
    gas_kg: float | None
    soak_error_c: float | None


def listed(database: Database, chosen: Chosen, most: int) -> list[HeatRow]:
    """Give the newest `most` heats, newest first."""
    condition, values = chosen.condition()
    query = f"SELECT {', '.join(COLUMNS)} FROM archived WHERE {condition} ORDER BY started DESC, id LIMIT :most"
    return [row_from(row) for row in database.rows(query, **values, most=most)]


def trend(database: Database, chosen: Chosen, grouping: Grouping) -> list[TrendRow]:
    """Give what heats come to, one row a group, by name."""
    condition, values = chosen.condition()
    column = _COLUMN[grouping]
    query = (
        f"SELECT {column}, count(*), sum(alarms), sum(over_min), sum(dose_min), sum(seconds) / 3600.0, max(peak_c), "
        f"sum(gas_kg), avg(soak_error_c) FROM archived WHERE {condition} GROUP BY {column} ORDER BY {column}"
    )
    names = TrendRow.__struct_fields__
    return [
        msgspec.convert(dict(zip(names, row, strict=True)), TrendRow, strict=False)
        for row in database.rows(query, **values)
    ]


def _literal(text: str) -> str:
    """Take from a text what LIKE would read as any letters."""
    for sign in "!%_":
        text = text.replace(sign, f"!{sign}")
    return text
