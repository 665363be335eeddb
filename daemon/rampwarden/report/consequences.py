"""What an excess does to a crucible of this class, and what to look at for it, in plain words with their standing.

Every sentence ends with where it comes from: a published figure, a calculation, or common practice without a source.
None is a prediction: one probe sees one spot, and pots differ. Knows alarms and classes, not heats.
"""

from collections.abc import Iterable

from rampwarden.core.alarm_entry import AlarmEntry, ReportMeaning
from rampwarden.core.catalogue import ENTRIES
from rampwarden.plan import CLASSES, PRONE_C, CrucibleClass, class_named
from rampwarden.report.units import Scale

_GRAVITY = {meaning: rank for rank, meaning in enumerate(ReportMeaning)}


def _gravest_first(entries: Iterable[AlarmEntry]) -> dict[str, AlarmEntry]:
    return {entry.name: entry for entry in sorted(entries, key=lambda entry: _GRAVITY[entry.report])}


BREACHES = _gravest_first(entry for entry in ENTRIES if entry.report.breaks_schedule)
"""Alarms that say the schedule itself was left, gravest first; the others speak of sensor, gas or outputs."""
DOUBTS = _gravest_first(entry for entry in ENTRIES if entry.report.casts_doubt)
"""Alarms after which the reading, and so the verdict, is itself in doubt."""

STEAM_BELOW_C = 200.0
"""°C below which water leaves a wall: its vapour pressure is 15.5 bar there (IAPWS formulation)."""
_PRACTICE = "common practice, no source"
_AFTER_STEAM = (
    "the outside: flakes or plates that came off, the trace of steam",
    "the ring when tapped: a dull pot has delaminated",
)
_AFTER_DOUBT = ("probe, plug and polarity, and the probe against a fresh one in place",)


def consequence(meaning: ReportMeaning, crucible_class: str, low_c: float, high_c: float, scale: Scale) -> str:
    """Say what a breach does to a class of crucible while it stood between two temperatures (°C); empty if nothing."""
    known = class_named(crucible_class)
    match meaning:
        case ReportMeaning.HEATED_TOO_FAST:
            return _too_fast(known, low_c, high_c, scale)
        case ReportMeaning.COOLED_TOO_FAST:
            return _cooled_too_fast(known, low_c, high_c, scale)
        case ReportMeaning.TOO_SLOW:
            return _too_slow(known, low_c, high_c, scale)
        case ReportMeaning.OVERHEATED:
            return f"Overheating lets flux and slag eat a softened glaze, and shortens the pot's life ({_PRACTICE})."
        case ReportMeaning.OUT_OF_BAND:
            if high_c < STEAM_BELOW_C + 70.0:
                return f"Time outside the band dries nothing for certain; only the scales tell dry ({_PRACTICE})."
            return "Time outside the band was not counted as soaked: the hold that was reached is an honest one."
        case _:
            return ""


def inspections(entry: AlarmEntry, low_c: float) -> tuple[str, ...]:
    """Say what to look at before the next heat after an alarm that began at `low_c` (°C)."""
    if entry.report is ReportMeaning.HEATED_TOO_FAST and low_c < STEAM_BELOW_C:
        return _AFTER_STEAM
    if not entry.look_at and entry.report is ReportMeaning.READING_IN_DOUBT:
        return _AFTER_DOUBT
    return entry.look_at


def _too_fast(known: CrucibleClass | None, low_c: float, high_c: float, scale: Scale) -> str:
    if low_c < STEAM_BELOW_C:
        return (
            f"Below {scale.show_temp(STEAM_BELOW_C)} it is steam that splits a wall: "
            f"flakes or plates off the outside, pops ({_PRACTICE}; 15.5 bar of it there, IAPWS formulation)."
        )
    crossed = [
        point_c for point_c in (CLASSES[known].inverts_c if known else ()) if low_c - 25 <= point_c <= high_c + 25
    ]
    if crossed:
        points = " and ".join(map(scale.show_temp, crossed))
        return (
            f"This class changes length with a jump near {points}; unevenly heated it cracks upright from the rim "
            f"(inversion: from memory; the crack: {_PRACTICE})."
        )
    if known in (CrucibleClass.CLAY_GRAPHITE, CrucibleClass.CARBON_BONDED_SIC, CrucibleClass.CERAMIC_BONDED_SIC):
        return (
            "Through the wall such a body stands far more (calculated); what cracks it is one side heated before the "
            f"other: upright from the rim, or at the bottom edge ({_PRACTICE}), which one probe cannot see."
        )
    return f"Too fast a climb puts the cold face in tension; cracks start at rim and bottom edge ({_PRACTICE})."


def _cooled_too_fast(known: CrucibleClass | None, low_c: float, high_c: float, scale: Scale) -> str:
    text = "Cooling puts the hot face in tension, twice as hard as heating at the same rate (calculated, thin slab)"
    if known and 573.0 in CLASSES[known].inverts_c and low_c <= 598.0 and high_c >= 548.0:
        return (
            f"{text}; through the quartz inversion at {scale.show_temp(573.0)}, {scale.show_difference(50.0)} an hour "
            f"are advised ({_PRACTICE})."
        )
    return f"{text}; cracks on cooling follow an open lid or a draught ({_PRACTICE})."


def _too_slow(known: CrucibleClass | None, low_c: float, high_c: float, scale: Scale) -> str:
    if known is not None and not CLASSES[known].oxidises:
        return "This costs time and gas; such a body does not burn."
    if high_c < PRONE_C[0]:
        below = scale.show_temp(PRONE_C[0])
        return f"Below {below} graphite hardly burns: this cost time and gas (Luo, Robin and Yu 2004)."
    return (
        f"Between {scale.temp(PRONE_C[0]):.0f} and {scale.show_temp(PRONE_C[1])}, before the glaze seals it, graphite "
        f"burns out of the wall ({_PRACTICE}; rate by Luo, Robin and Yu 2004, an upper bound)."
    )
