"""What an explanation says, in words: what it is, how sure, since when, and by which figures.

A cause that one probe cannot tell from another is worded as the pair it is. Nothing is judged here.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from rampwarden.core.explanation import Cause, Statement
from rampwarden.core.quantities import format_duration

_NOUNS: Mapping[Cause, str] = MappingProxyType(
    {
        Cause.FLAME_OUT: "the flame",
        Cause.FADING: "the gas, nor a turned-down burner",
        Cause.SAG: "the gas, nor a turned-down burner",
        Cause.LID_OR_PROBE: "the lid, nor the probe",
        Cause.CHARGE: "cold metal",
        Cause.PROBE_MOVED: "a moved probe, nor a lid left ajar",
        Cause.IN_FLAME: "the flame at the probe",
        Cause.INTERFERENCE: "interference",
        Cause.STUCK: "a stuck sensor",
        Cause.CYCLING: "a heat that switches on and off",
        Cause.HEAT_OFF: "a heat that is off",
        Cause.LEFT_ON: "a heat left on",
        Cause.PLATEAU: "melting or freezing metal",
        Cause.ARRIVAL: "the pot's arrival",
    }
)
"""What it turned out not to be: to be read after "it was not"."""

_OVER: Mapping[Cause, str] = MappingProxyType(
    {
        Cause.LID_OR_PROBE: "the lid is shut again, or the probe back in its place",
        Cause.IN_FLAME: "the probe is out of the flame",
        Cause.CYCLING: "the heat no longer switches on and off",
        Cause.HEAT_OFF: "the heat is back",
        Cause.LEFT_ON: "it cools",
        Cause.PLATEAU: "the temperature goes on",
    }
)
"""How the end of it is told; of other causes it is not, or the alarm's return says it."""


def heat_clock(time_s: float) -> str:
    """Give a time of the heat (s) as a person reads it: hours and minutes since its beginning.

    >>> heat_clock(7459.0)
    '2:04 h'
    """
    minutes = int(time_s // 60.0)
    return f"{minutes // 60}:{minutes % 60:02d} h"


def how_sure(sure: float) -> str:
    """Word a probability, 0 to 1.

    >>> how_sure(0.97)
    'very likely'
    """
    if sure >= 0.99:
        return "almost certainly"
    if sure >= 0.95:
        return "very likely"
    return "likely" if sure >= 0.8 else "possibly"


def told_words(statement: Statement) -> str:
    """Word a statement: how sure, what, since when, and its figures."""
    what, figures = _TOLD[statement.cause](statement)
    since = f"{how_sure(statement.sure)} {what}, since {heat_clock(statement.since_s)}"
    return f"{since}: {figures}" if figures else since


def withdrawn_words(statement: Statement) -> str:
    """Word that a statement was wrong."""
    return f"withdrawn: it was not {_NOUNS[statement.cause]} (told at {heat_clock(statement.told_s)})"


def over_words(statement: Statement, time_s: float) -> str:
    """Word that what was told is over at `time_s` (s); empty where that needs no word."""
    over = _OVER.get(statement.cause)
    return f"{over}, after {format_duration(time_s - statement.since_s)}" if over else ""


def _slopes(statement: Statement) -> str:
    """Give the slopes before and now, °C/min, as far as they are known."""
    before, now = statement.figures.before_c_per_s, statement.figures.now_c_per_s
    if before is None or now is None:
        return "" if now is None else f"{60.0 * now:+.1f} °C/min"
    return f"{60.0 * before:+.1f} became {60.0 * now:+.1f} °C/min"


def _flame_out(statement: Statement) -> tuple[str, str]:
    return "the flame is out while gas may still flow", _slopes(statement)


def _fading(statement: Statement) -> tuple[str, str]:
    return "the climb has slowed (the gas fails, or it was turned down)", _slopes(statement)


def _sag(statement: Statement) -> tuple[str, str]:
    change_c = statement.figures.change_c
    sagged = "" if change_c is None else f"{-change_c:.0f} °C so far"
    return "the soak sags (the gas fails, or it was turned down)", sagged or _slopes(statement)


def _lid(statement: Statement) -> tuple[str, str]:
    change_c = statement.figures.change_c
    fell = "" if change_c is None else f"{abs(change_c):.0f} °C fell at once"
    return "the lid was lifted or the probe moved", fell


def _charge(statement: Statement) -> tuple[str, str]:
    change_c = statement.figures.change_c
    short = "" if change_c is None else f"{abs(change_c):.0f} °C lower than the climb before would have led"
    return "cold metal was added", short


def _moved(statement: Statement) -> tuple[str, str]:
    change_c = statement.figures.change_c
    shown = "" if change_c is None else f"it shows {abs(change_c):.0f} °C less than before"
    return "the probe was moved, or the lid stands ajar", shown


def _in_flame(statement: Statement) -> tuple[str, str]:
    change_c = statement.figures.change_c
    shown = "" if change_c is None else f"it shows {abs(change_c):.0f} °C more than before"
    return "the flame touches the probe", shown


def _interference(statement: Statement) -> tuple[str, str]:
    count = statement.figures.count
    return "something disturbs the wires", "" if count is None else f"{count} readings leapt beside the course"


def _stuck(statement: Statement) -> tuple[str, str]:
    lasted_s = statement.figures.lasted_s
    return (
        "board or converter hangs",
        "" if lasted_s is None else f"not one step of movement for {format_duration(lasted_s)}",
    )


def _cycling(statement: Statement) -> tuple[str, str]:
    period_s = statement.figures.period_s
    return (
        "the heat switches on and off (a thermostat, or the burner)",
        "" if period_s is None else f"every {format_duration(period_s)}",
    )


def _heat_off(statement: Statement) -> tuple[str, str]:
    return "the heat is off (tripped, or its thermostat's own pause)", _slopes(statement)


def _left_on(statement: Statement) -> tuple[str, str]:
    return "the heat was left on", _slopes(statement)


def _plateau(statement: Statement) -> tuple[str, str]:
    figures = statement.figures
    falls = figures.before_c_per_s is not None and figures.before_c_per_s < 0.0
    what = f"{figures.metal or 'metal'} {'freezes' if falls else 'melts'}"
    stands = "" if figures.temp_c is None else f"{figures.temp_c:.0f} °C"
    lasted = "" if figures.lasted_s is None else f"for {format_duration(figures.lasted_s)}"
    return what, f"{stands} {lasted}".strip()


def _arrival(statement: Statement) -> tuple[str, str]:
    return "the probe takes up the pot's temperature after the transfer", ""


_TOLD: Mapping[Cause, Callable[[Statement], tuple[str, str]]] = MappingProxyType(
    {
        Cause.FLAME_OUT: _flame_out,
        Cause.FADING: _fading,
        Cause.SAG: _sag,
        Cause.LID_OR_PROBE: _lid,
        Cause.CHARGE: _charge,
        Cause.PROBE_MOVED: _moved,
        Cause.IN_FLAME: _in_flame,
        Cause.INTERFERENCE: _interference,
        Cause.STUCK: _stuck,
        Cause.CYCLING: _cycling,
        Cause.HEAT_OFF: _heat_off,
        Cause.LEFT_ON: _left_on,
        Cause.PLATEAU: _plateau,
        Cause.ARRIVAL: _arrival,
    }
)
