"""What a single reading says against its sensor: the board's own flags, and what no such thermocouple can give.

A fact about now. Whether it has stood long enough to be an alarm is decided elsewhere. A deadband applies only to an
alarm already raised, so that it never helps to raise one.
"""

from collections.abc import Collection

from rampwarden.core.catalogue import CATALOGUE, AlarmName
from rampwarden.core.model import Fault, Finding, Reading

SENSOR_ALARMS = (
    AlarmName.SENSOR_OPEN,
    AlarmName.SENSOR_SHORT,
    AlarmName.SENSOR_RANGE,
    AlarmName.JUNCTION_RANGE,
)


def sensor_findings(
    reading: Reading, range_fault: str | None, junction_range_c: tuple[float, float], raised: Collection[str]
) -> dict[str, Finding]:
    """Judge one reading's sensor. `range_fault` says in words why it gives no temperature, if it does not."""
    found: dict[str, Finding] = {}
    faults = reading.faults
    if faults:
        if Fault.OPEN in faults:
            found[AlarmName.SENSOR_OPEN] = Finding(None, None, None, "the thermocouple is open")
        if Fault.SHORT_GROUND in faults:
            found[AlarmName.SENSOR_SHORT] = Finding(None, None, None, "the thermocouple is shorted to ground")
        if Fault.SHORT_SUPPLY in faults:
            found[AlarmName.SENSOR_SHORT] = Finding(None, None, None, "the thermocouple is shorted to the supply")
        if Fault.CONVERTER in faults:
            found[AlarmName.SENSOR_RANGE] = Finding(None, None, None, "the board's converter failed")
        if Fault.JUNCTION in faults:
            # Without its reference junction no EMF is a temperature: that is the alarm to run for.
            what = "the reference junction's sensor failed"
            found[AlarmName.JUNCTION_RANGE] = found[AlarmName.SENSOR_RANGE] = Finding(None, None, None, what)
    if range_fault is not None:
        value, unit = (reading.temp_c, "°C") if reading.emf_uv is None else (reading.emf_uv, "µV")
        found[AlarmName.SENSOR_RANGE] = Finding(value, None, unit, range_fault)
    junction_c = reading.junction_c
    if junction_c is not None:
        lowest, highest = junction_range_c
        if AlarmName.JUNCTION_RANGE in raised:
            # As of a soak: never more than a quarter of the range, or a narrow one could not come back at all.
            deadband = min(CATALOGUE[AlarmName.JUNCTION_RANGE].deadband, (highest - lowest) / 4)
            lowest, highest = lowest + deadband, highest - deadband
        if not lowest <= junction_c <= highest:
            limit = junction_range_c[0] if junction_c < lowest else junction_range_c[1]
            usual = f"{junction_range_c[0]:g} to {junction_range_c[1]:g}"
            what = f"reference junction at {junction_c:.1f} °C, usual {usual}"
            found[AlarmName.JUNCTION_RANGE] = Finding(round(junction_c, 1), limit, "°C", what)
    return found
