"""What two probes show together, in words: the finding, since when, and the evidence. Nothing is judged here."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from rampwarden.core.quantities import format_duration
from rampwarden.core.two_probes import Between, Settled
from rampwarden.core.watching.statement_words import heat_clock


def together_words(settled: Settled) -> str:
    """Say what is so between both probes, and by what it was seen."""
    return _WORDS[settled.between](settled)


def _stepped(whose: str, settled: Settled) -> str:
    more = settled.changed_k > 0.0
    touched = ", or a flame touches it" if more else ""
    shows = f"it alone shows {abs(settled.changed_k):.0f} K {'more' if more else 'less'}"
    return f"the {whose} probe has moved or fails{touched}: since {heat_clock(settled.since_s)} {shows}"


def _pot_stepped(settled: Settled) -> str:
    beside = f"the chamber's went its way within {max(abs(settled.beside_k), 1.0):.0f} K"
    return f"{_stepped('pot', settled)}, and {beside}"


def _chamber_stepped(settled: Settled) -> str:
    followed = f"the pot would have followed by {abs(settled.foretold_k):.0f} K and did not"
    return f"{_stepped('chamber', settled)}; {followed}"


def _parted(settled: Settled) -> str:
    apart = f"pot and chamber probe have parted by {abs(settled.changed_k):.0f} K"
    held = f"in {format_duration(settled.lasted_s)} of a soak on which the pot was held"
    return f"{apart} {held}"


def _pot_drifts(settled: Settled) -> str:
    why = "the gap grows, as it does in no furnace, and a wire that ages reads low"
    return f"{_parted(settled)}: suspect the pot's, for {why}; the pot is then hotter than it shows"


def _chamber_drifts(settled: Settled) -> str:
    why = "the gap shrinks and does not slow down, as it would while the lining warms through"
    return f"{_parted(settled)}: suspect the chamber's, which then reads low, for {why}"


def _lags(settled: Settled) -> str:
    if not settled.foretold_k:
        came_back = "while the chamber came back as the lid was shut"
        return f"cold metal is in the pot: it stayed {abs(settled.changed_k):.0f} K behind {came_back}"
    climbed = f"{settled.changed_k:.0f} K climbed in {format_duration(settled.lasted_s)} of {settled.foretold_k:.0f}"
    return f"the pot takes more heat than it has capacity for (metal melts in it, or water leaves): {climbed} foretold"


def _out_of_seat(settled: Settled) -> str:
    shows = f"the chamber is at {settled.chamber_c:.0f} °C, the pot probe shows {settled.pot_c:.0f} °C"
    if settled.foretold_k:
        shows += f" and has climbed {settled.changed_k:.0f} K in {format_duration(settled.lasted_s)}"
    else:
        shows += f", {abs(settled.changed_k):.0f} K less than before"
    return f"the pot probe is out of its seat since {heat_clock(settled.since_s)}: {shows}"


_WORDS: Mapping[Between, Callable[[Settled], str]] = MappingProxyType(
    {
        Between.POT_PROBE_STEPPED: _pot_stepped,
        Between.CHAMBER_PROBE_STEPPED: _chamber_stepped,
        Between.POT_PROBE_DRIFTS: _pot_drifts,
        Between.CHAMBER_PROBE_DRIFTS: _chamber_drifts,
        Between.POT_LAGS: _lags,
        Between.OUT_OF_SEAT: _out_of_seat,
    }
)
