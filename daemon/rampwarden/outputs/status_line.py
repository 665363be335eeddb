"""How a heat's status and its events read in one line, for logs and plain terminals."""

from rampwarden.core.heat import Phase
from rampwarden.core.model import PEOPLES_WORDS, Event, HeatStatus, ProbeStatus, Quality, WaterState
from rampwarden.core.physics import gas_words, wall_words
from rampwarden.core.pot import Place
from rampwarden.core.quantities import counted, format_duration, format_range

_PLACES = {
    Place.POT.value: "probe on the pot",
    Place.CHAMBER.value: "probe in the chamber: the pot lags behind",
}


def event_sentence(event: Event) -> str:
    """Give the event as one line; what a person wrote is marked as theirs."""
    return f"{event.event} · {event.text}" if event.event in PEOPLES_WORDS else event.text


def status_sentence(status: HeatStatus) -> str:
    """Give the status as one line: how hot, how fast and how fast is allowed, where, how long still."""
    parts = [_temperature(status), _ramp(status)]
    if status.segment is None or is_still_hot(status):
        parts.append(phase_words(status))
    else:
        parts.append(f"{status.segment} ({status.segment_number} of {status.segment_count})")
    if status.hold_s:
        parts.append(hold_words(status))
    if not status.hold_s and (next_in := next_in_words(status)):
        parts.append(f"next in {next_in}")
    if done_in := done_in_words(status):
        parts.append(f"done in {done_in}")
    parts += [stop_words(status), standing_in_words(status), probes_words(status)]
    return " · ".join(part for part in parts if part)


def next_in_words(status: HeatStatus) -> str:
    """Say how long until the next segment, as wide as the guess is; "…" while it is too early, empty where unknown."""
    return _time_left(status.to_next_s, status.to_next_range_s, is_settling=status.is_settling)


def done_in_words(status: HeatStatus) -> str:
    """Say how long until the end, likewise."""
    return _time_left(status.to_end_s, status.to_end_range_s, is_settling=status.is_settling)


def learnt_words(status: HeatStatus) -> str:
    """Say how many earlier heats the two times are learnt from; empty where none is known, or no time."""
    if not status.earlier_heats or status.to_next_s is None:
        return ""
    heats = counted(status.earlier_heats, "an earlier heat", "earlier heats")
    return f"learnt from {heats}"


def stop_words(status: HeatStatus) -> str:
    """Say that the climb will not get where it should as it goes now; empty while it may."""
    if status.stops_near_c is None:
        return ""
    short = "" if status.target_c is None else f", short of {status.target_c:.0f} °C"
    return f"at this flame it will stop near {round(status.stops_near_c, -1):.0f} °C{short}"


def hold_words(status: HeatStatus) -> str:
    """Say how much of the segment's time has been kept: soaked in its band, or the furnace shut while it cools."""
    is_shut = status.phase == Phase.COOLING.value
    # What hangs in the chamber saw the chamber soak; the pot was in the band later, and for less.
    whose = " by the chamber" if status.place == Place.CHAMBER.value and not is_shut else ""
    open_ = f", {format_duration(status.unconfirmed_s)} not confirmed" if status.unconfirmed_s > 0.0 else ""
    kept = f"{format_duration(status.soaked_s)} of {format_duration(status.hold_s)}"
    return f"{'shut' if is_shut else 'soaked'} {kept}{whose}{open_}"


def is_still_hot(status: HeatStatus) -> bool:
    """Tell whether the schedule is done and the pot not cold yet: its last segment leads nowhere any more."""
    return status.phase == Phase.STILL_HOT.value


def phase_words(status: HeatStatus) -> str:
    """Name the phase for people. Its own value stands in a list that commas separate, and can hold none."""
    return "cooling, still watched" if is_still_hot(status) else status.phase


def place_words(place: str) -> str:
    """Say whose temperature is watched, by where the probe hangs; empty where nobody has said."""
    return _PLACES.get(place, "")


def physics_lines(status: HeatStatus) -> tuple[str, ...]:
    """Say what is reckoned of the pot's own physics, a line each; none where nothing is known to reckon with."""
    wall = "" if status.wall is None else wall_words(status.wall)
    gas = "" if status.gas is None else gas_words(status.gas)
    water = "" if status.water is None else water_words(status.water)
    return tuple(line for line in (water, wall, gas) if line)


def standing_in_words(status: HeatStatus) -> str:
    """Say which probe stands in for the followed one, how far its guess may be off, and what is not guarded.

    Empty while the followed probe is followed.
    """
    state = status.standing_in
    if state is None:
        return ""
    parts = [f"by the {state.probe} probe, ± {state.expanded_c:.0f} °C"]
    if state.unguarded:
        parts.append(f"not guarded: {', '.join(state.unguarded)}")
    if not state.earns and status.hold_s:
        parts.append("the soak clock stands still")
    return "; ".join(parts)


def probes_words(status: HeatStatus) -> str:
    """Say what the probes beside the followed one read; empty where there is none."""
    return " · ".join(f"{each.probe} {_probe_temperature(each)}" for each in status.probes)


def _probe_temperature(probe: ProbeStatus) -> str:
    if probe.temp_c is None:
        return "---"
    off = "" if probe.expanded_c is None else f" ± {probe.expanded_c:.0f}"
    held = " (held)" if probe.quality is Quality.HELD else ""
    return f"{probe.temp_c:.0f}{off} °C{held}"


def readiness_words(status: HeatStatus) -> str:
    """Say at the heat's end what the pot is ready for and the gravest reason; empty before."""
    readiness = status.readiness
    return "" if readiness is None else " ".join((readiness.sentence, *readiness.reasons[:1]))


def withheld_words(status: HeatStatus) -> str:
    """Say that a ramp alarm is held back, and for how much longer at most; empty while none is."""
    withheld = status.withheld
    if withheld is None:
        return ""
    return f"{withheld.alarms[0]} held back, {format_duration(max(0.0, withheld.until_s - status.time_s))} more at most"


def ramp_unit(status: HeatStatus) -> tuple[float, str]:
    """Give the unit that the present ramp is steered in, and how many of it one °C/s is."""
    lowest, highest = status.allowed_c_per_s
    bound = highest if highest is not None else lowest
    present = 0.0 if status.ramp is None else status.ramp.c_per_s
    # Slow segments are steered in °C/h, fast ones in °C/min; ten degrees a minute is where people change over.
    per_hour = abs(bound if bound is not None else present) < 10 / 60
    return (3600.0, "°C/h") if per_hour else (60.0, "°C/min")


def ramp_number(status: HeatStatus) -> str:
    """Give the ramp in its unit; "…" while it is not known yet, empty where there is none."""
    if status.ramp is not None:
        return signed(status.ramp.c_per_s * ramp_unit(status)[0])
    return "…" if status.segment is not None and status.temp_c is not None else ""


def signed(value: float) -> str:
    """Write a rate in whole units with its sign; what rounds to nothing has none.

    >>> signed(-0.3), signed(61.5)
    ('0', '+62')
    """
    return f"{value:+.0f}" if round(value) else "0"


def _time_left(best_s: float | None, range_s: tuple[float, float] | None, *, is_settling: bool) -> str:
    if best_s is None:
        return "…" if is_settling else ""
    return format_duration(best_s) if range_s is None else format_range(best_s, *range_s)


def _temperature(status: HeatStatus) -> str:
    if status.temp_c is None:
        return "no temperature"
    doubt = " (not trusted yet)" if status.quality is Quality.HELD else ""
    return f"{status.temp_c:.0f} °C{doubt}"


def _ramp(status: HeatStatus) -> str:
    number = ramp_number(status)
    if not number:
        return ""
    lowest, highest = status.allowed_c_per_s
    factor, unit = ramp_unit(status)
    allowed = [signed(value * factor) for value in (lowest, highest) if value is not None]
    allowance = f" (allowed {' to '.join(allowed)})" if len(allowed) == 2 else ""
    if len(allowed) == 1:
        # A lower bound below zero is that of cooling: no person calls -100 the least and -400 too much.
        at = "least" if lowest is not None and lowest > 0 else "most"
        allowance = f" (at {at} {allowed[0]})"
    held_back = f" ({withheld_words(status)})" if status.withheld is not None else ""
    return f"{number} {unit}{allowance}{held_back}"


def water_words(water: WaterState) -> str:
    """Say what a drying pot has shown of its water; empty where that is nothing yet."""
    if water.is_dry:
        said = "no water leaves the pot any more"
    elif water.left_s is not None:
        said = "its water has left: the climb has recovered; only its weight proves it dry"
    elif water.missed:
        said = "no recovery of the climb was seen: the pot is not shown to be dry"
    else:
        leaving = "water is leaving the wall, or the oven stands still: hold the oven"
        said = "" if water.leaving_s is None else leaving
    return " · ".join(part for part in (said, gone_words(water)) if part)


def gone_words(water: WaterState) -> str:
    """Say how much water has left by the heat balance of pot and oven; empty where there is none."""
    if water.gone_g is None or water.gone_range_g is None:
        return ""
    low_g, high_g = water.gone_range_g
    return f"{water.gone_g:.0f} g of water gone by the heat balance ({low_g:.0f} to {high_g:.0f})"
