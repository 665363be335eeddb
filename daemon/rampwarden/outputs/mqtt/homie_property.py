"""One property of the device in the words of the Homie convention, and the facts of a heat that its value may need."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from rampwarden.core.model import HeatStatus

RENEWED_S = 10.0
"""s. Renewed this often, so that one lost renewal leaves no hole."""


@dataclass(frozen=True, slots=True)
class HeatFacts:
    """What does not change while a heat runs; `started` is wall time, aware and in UTC."""

    record_id: str
    title: str
    crucible: str
    started: datetime


@dataclass(frozen=True, slots=True)
class Property:
    """One property of the device, and how its value is found.

    `value` is None for what has no value of its own (events, commands). `settle_s` is the least time between two
    changes worth sending, `renew_s` how often an unchanged live value is sent again, both in seconds.
    """

    name: str
    datatype: str
    value: Callable[[HeatStatus, HeatFacts], str | None] | None = None
    unit: str = ""
    format: str = ""
    settable: bool = False
    retained: bool = True
    live: bool = True
    settle_s: float = 0.0
    renew_s: float = RENEWED_S

    def description(self) -> dict[str, object]:
        """Give the property as it stands in `$description`; defaults are left out."""
        fields: dict[str, object] = {"name": self.name, "datatype": self.datatype}
        fields |= {key: value for key, value in (("unit", self.unit), ("format", self.format)) if value}
        if self.settable:
            fields["settable"] = True
        if not self.retained:
            fields["retained"] = False
        return fields
