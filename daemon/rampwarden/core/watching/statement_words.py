"""What an explanation says, in words: what it is, how sure, since when, and by which figures.

A cause that one probe cannot tell from another is worded as the pair it is. Nothing is judged here.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from rampwarden.core.explanation import Cause, Figures, Statement
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
    what, word = _TOLD[statement.cause]
    what, figures = what or _melting(statement.figures), word(statement.figures)
    since = f"{how_sure(statement.sure)} {what}, since {heat_clock(statement.since_s)}"
    return f"{since}: {figures}" if figures else since


def withdrawn_words(statement: Statement) -> str:
    """Word that a statement was wrong."""
    return f"withdrawn: it was not {_NOUNS[statement.cause]} (told at {heat_clock(statement.told_s)})"


def over_words(statement: Statement, time_s: float) -> str:
    """Word that what was told is over at `time_s` (s); empty where that needs no word."""
    over = _OVER.get(statement.cause)
    return f"{over}, after {format_duration(time_s - statement.since_s)}" if over else ""


def _slopes(figures: Figures) -> str:
    """Give the slopes before and now, °C/min, as far as they are known."""
    before, now = figures.before_c_per_s, figures.now_c_per_s
    if before is None or now is None:
        return "" if now is None else f"{60.0 * now:+.1f} °C/min"
    return f"{60.0 * before:+.1f} became {60.0 * now:+.1f} °C/min"


def _change(words: str) -> Callable[[Figures], str]:
    """Give what words how far the reading changed, °C; nothing where that is not known."""
    return lambda figures: "" if figures.change_c is None else words.format(abs(figures.change_c))


def _sagged(figures: Figures) -> str:
    return _slopes(figures) if figures.change_c is None else f"{-figures.change_c:.0f} °C so far"


def _leapt(figures: Figures) -> str:
    return "" if figures.count is None else f"{figures.count} readings leapt beside the course"


def _stood(figures: Figures) -> str:
    return "" if figures.lasted_s is None else f"not one step of movement for {format_duration(figures.lasted_s)}"


def _period(figures: Figures) -> str:
    return "" if figures.period_s is None else f"every {format_duration(figures.period_s)}"


def _level(figures: Figures) -> str:
    stands = "" if figures.temp_c is None else f"{figures.temp_c:.0f} °C"
    lasted = "" if figures.lasted_s is None else f"for {format_duration(figures.lasted_s)}"
    return f"{stands} {lasted}".strip()


def _melting(figures: Figures) -> str:
    falls = figures.before_c_per_s is not None and figures.before_c_per_s < 0.0
    return f"{figures.metal or 'metal'} {'freezes' if falls else 'melts'}"


_TOLD: Mapping[Cause, tuple[str, Callable[[Figures], str]]] = MappingProxyType(
    {
        Cause.FLAME_OUT: ("the flame is out while gas may still flow", _slopes),
        Cause.FADING: ("the climb has slowed (the gas fails, or it was turned down)", _slopes),
        Cause.SAG: ("the soak sags (the gas fails, or it was turned down)", _sagged),
        Cause.LID_OR_PROBE: ("the lid was lifted or the probe moved", _change("{:.0f} °C fell at once")),
        Cause.CHARGE: ("cold metal was added", _change("{:.0f} °C lower than the climb before would have led")),
        Cause.PROBE_MOVED: (
            "the probe was moved, or the lid stands ajar",
            _change("it shows {:.0f} °C less than before"),
        ),
        Cause.IN_FLAME: ("the flame touches the probe", _change("it shows {:.0f} °C more than before")),
        Cause.INTERFERENCE: ("something disturbs the wires", _leapt),
        Cause.STUCK: ("board or converter hangs", _stood),
        Cause.CYCLING: ("the heat switches on and off (a thermostat, or the burner)", _period),
        Cause.HEAT_OFF: ("the heat is off (tripped, or its thermostat's own pause)", _slopes),
        Cause.LEFT_ON: ("the heat was left on", _slopes),
        Cause.PLATEAU: ("", _level),
        Cause.ARRIVAL: ("the probe takes up the pot's temperature after the transfer", lambda _: ""),
    }
)
"""What is told of a cause, and what words its figures; metal that melts names itself (`_melting`)."""
