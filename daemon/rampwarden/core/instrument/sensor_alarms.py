"""Which alarm conditions of the sensor one reading shows: what the board says of itself, and what cannot be so.

A condition here is a fact about now. Whether it has stood long enough to be an alarm is the desk's business. A deadband
applies only to an alarm already raised, so that it never helps to raise one.
"""

from collections.abc import Collection, Mapping
from types import MappingProxyType

from rampwarden.core.alarm_entry import AlarmEntry, ReadingDoubt, ReportMeaning
from rampwarden.core.instrument.intermittence import SENSOR_INTERMITTENT
from rampwarden.core.model import Fault, Finding, Priority, Reading

SENSOR_OPEN = AlarmEntry(
    name="sensor-open",
    condition="the board reports an open thermocouple",
    priority=Priority.HIGH,
    on_delay_s=2.0,
    off_delay_s=10.0,
    about_delays="two seconds: a plug that wiggles once is no alarm",
    why="a broken thermocouple sees nothing; the furnace goes on heating",
    action="check plug and thermocouple, hold the heat",
    time_to_act="at once",
    rests_in_transfer=True,
    doubts=ReadingDoubt.MEANINGLESS,
    report=ReportMeaning.READING_IN_DOUBT,
)

SENSOR_SHORT = AlarmEntry(
    name="sensor-short",
    condition="the board reports a short to ground or to its supply",
    priority=Priority.HIGH,
    on_delay_s=2.0,
    off_delay_s=10.0,
    about_delays="two seconds: wires that touch once are no alarm",
    why="a shorted thermocouple reads some other place or nothing",
    action="check the wires for contact with the furnace, hold the heat",
    time_to_act="at once",
    doubts=ReadingDoubt.MEANINGLESS,
    report=ReportMeaning.READING_IN_DOUBT,
)

SENSOR_RANGE = AlarmEntry(
    name="sensor-range",
    condition="the reading lies outside what the thermocouple can give, or the converter failed",
    priority=Priority.HIGH,
    on_delay_s=2.0,
    off_delay_s=10.0,
    about_delays="two seconds: one reading is a spark",
    why="the temperature is not known",
    action="check type, polarity and wiring, hold the heat",
    time_to_act="at once",
    doubts=ReadingDoubt.MEANINGLESS,
    report=ReportMeaning.READING_IN_DOUBT,
)

JUNCTION_RANGE = AlarmEntry(
    name="junction-range",
    condition="the reference junction is outside its usual range, or its sensor failed",
    priority=Priority.LOW,
    on_delay_s=30.0,
    off_delay_s=60.0,
    about_delays="it changes slowly, so half a minute is soon enough",
    why="each degree of error there is a degree of error in the reading",
    action="move the board away from the heat",
    time_to_act="this heat",
    deadband=2.0,
    report=ReportMeaning.JUNCTION_IN_DOUBT,
    look_at=("where the board stands: out of heat and draught",),
)

SENSOR_ALARMS = (SENSOR_OPEN, SENSOR_SHORT, SENSOR_RANGE, SENSOR_INTERMITTENT, JUNCTION_RANGE)
"""What is judged of every reading."""

FAULT_WORDS: Mapping[Fault, str] = MappingProxyType(
    {
        Fault.OPEN: "the thermocouple is open",
        Fault.SHORT_GROUND: "the thermocouple is shorted to ground",
        Fault.SHORT_SUPPLY: "the thermocouple is shorted to the supply",
        Fault.CONVERTER: "the board's converter failed",
        # Without its reference junction no EMF is a temperature.
        Fault.JUNCTION: "the reference junction's sensor failed",
    }
)
"""What the board says of itself, in words."""
_ALARMS_OF_FAULT: Mapping[Fault, tuple[str, ...]] = MappingProxyType(
    {
        Fault.OPEN: (SENSOR_OPEN.name,),
        Fault.SHORT_GROUND: (SENSOR_SHORT.name,),
        Fault.SHORT_SUPPLY: (SENSOR_SHORT.name,),
        Fault.CONVERTER: (SENSOR_RANGE.name,),
        Fault.JUNCTION: (JUNCTION_RANGE.name, SENSOR_RANGE.name),
    }
)


def sensor_findings(
    reading: Reading, range_fault: str | None, junction_range_c: tuple[float, float], raised: Collection[str]
) -> dict[str, Finding]:
    """Judge one reading's sensor. `range_fault` says in words why it gives no temperature, if it does not."""
    found: dict[str, Finding] = {}
    for fault, alarms in _ALARMS_OF_FAULT.items() if reading.faults else ():
        if fault in reading.faults:
            for name in alarms:
                found[name] = Finding(None, None, None, FAULT_WORDS[fault])
    if range_fault is not None:
        value, unit = (reading.temp_c, "°C") if reading.emf_uv is None else (reading.emf_uv, "µV")
        found[SENSOR_RANGE.name] = Finding(value, None, unit, range_fault)
    junction_c = reading.junction_c
    if junction_c is not None:
        lowest, highest = junction_range_c
        if JUNCTION_RANGE.name in raised:
            # As of a soak: never more than a quarter of the range, or a narrow one could not come back at all.
            deadband = min(JUNCTION_RANGE.deadband, (highest - lowest) / 4)
            lowest, highest = lowest + deadband, highest - deadband
        if not lowest <= junction_c <= highest:
            limit = junction_range_c[0] if junction_c < lowest else junction_range_c[1]
            usual = f"{junction_range_c[0]:g} to {junction_range_c[1]:g}"
            what = f"reference junction at {junction_c:.1f} °C, usual {usual}"
            found[JUNCTION_RANGE.name] = Finding(round(junction_c, 1), limit, "°C", what)
    return found
