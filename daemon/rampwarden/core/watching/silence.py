"""Silence: since when nothing was heard of the board, and whether a pot that is still hot is seen at all.

Knows no clock: when it is due is asked, and the time is given.
"""

import math

from rampwarden.core.alarm_entry import names
from rampwarden.core.model import Finding, Measurement, Quality
from rampwarden.core.monitor_alarms import COOLING_UNSEEN, SIGNAL_LOST
from rampwarden.core.quantities import format_duration

SIGNAL_ALARMS = names((SIGNAL_LOST, COOLING_UNSEEN))
"""The alarms that are judged here."""


class SilenceWatch:
    """Waits for the next reading for `lost_s` seconds; `due_s` is until when, infinite once it has been told.

    `port_trouble` is what the rim says of the port, in words; it is the likely cause.
    """

    def __init__(self, lost_s: float) -> None:
        self._lost_s = lost_s
        self._heard_s = 0.0
        self.due_s = math.inf
        self.port_trouble = ""

    def heard(self, now_s: float) -> None:
        """A reading, whatever it says, came at `now_s` (s); or the watch began."""
        self._heard_s = now_s
        self.due_s = now_s + self._lost_s

    def judge(self, now_s: float, *, schedule_done: bool) -> dict[str, Finding]:
        """Give what there is to say of the silence at `now_s` (s), which is due."""
        self.due_s = math.inf
        silent_s = now_s - self._heard_s
        cause = f": {self.port_trouble}" if self.port_trouble else ""
        what = f"no reading for {format_duration(silent_s)}{cause}"
        finding = Finding(round(silent_s, 1), self._lost_s, "s", what)
        return {(COOLING_UNSEEN if schedule_done else SIGNAL_LOST).name: finding}


def unseen(measurement: Measurement, *, probe_pulled: bool, too_few: bool) -> dict[str, Finding]:
    """Tell whether a pot that cools after its schedule is seen no more: no temperature, the room's, or now and then."""
    if measurement.quality is Quality.BAD:
        what = "the probe gives no temperature"
    elif too_few:
        what = "too few readings of the probe can be believed"
    elif probe_pulled:
        what = "the probe has been pulled"
    else:
        return {}
    return {COOLING_UNSEEN.name: Finding(None, None, None, f"{what}, and the pot was not cold yet")}
