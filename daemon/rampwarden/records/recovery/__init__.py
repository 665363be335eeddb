"""Takes an unfinished heat up again: finds its record, replays it, and says how long nobody watched.

The heat cannot be repeated, so a watch that comes back (crash, power cut, a service restarted) goes on at its place in
the schedule, with its soak clock and its alarms, as far as the record can still be read. Nothing is guessed, and
nothing is given up without a word.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.records.recovery.blind_time import EARLIEST_BELIEVED
    from rampwarden.records.recovery.continuation import begin_anew, unused_name
    from rampwarden.records.recovery.finding import Search, Unfinished, find_unfinished, written_s
    from rampwarden.records.recovery.taking_up import GoneBy, TakenUp, take_up
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "EARLIEST_BELIEVED",
    "GoneBy",
    "Search",
    "TakenUp",
    "Unfinished",
    "begin_anew",
    "find_unfinished",
    "take_up",
    "unused_name",
    "written_s",
]
