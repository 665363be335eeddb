"""A spot check from a page: what somebody typed at the furnace, made into the note that a spot check is.

It is corrected for what was looked at and held against the thermocouple of that moment, as `rampwarden spot` does; the
report weighs which of the two to doubt. Everything typed is held to be hostile, and refused in words.
"""

from dataclasses import replace

from msgspec import Struct

from rampwarden.core.model import Command, CommandName
from rampwarden.core.quantities import parse_temperature
from rampwarden.errors import ControlError, QuantityError
from rampwarden.outputs.in_fahrenheit import in_fahrenheit
from rampwarden.picture import Picture
from rampwarden.spot import ROOM, make_check, note_text, parse_band, spot_uncertainty_c, thermocouple_now

_LONGEST = 40


class SpotOrder(Struct):
    """What the spot thermometer showed ('914 C', '1677 F'), what it is set to, and what was looked at.

    `around` is what the surface reflects, the room where it is empty.
    """

    reading: str
    set_emissivity: float = 0.95
    emissivity: float = 0.8
    band: str = "8-14um"
    around: str = ""


def spot_note(order: SpotOrder, picture: Picture, by: str) -> tuple[Command, str]:
    """Give the note to write and what to answer; raises `ControlError` where there is nothing to correct."""
    try:
        if max(map(len, (order.reading, order.band, order.around))) > _LONGEST:
            raise QuantityError(f"a text of more than {_LONGEST} letters")
        check = make_check(
            parse_temperature(order.reading),
            parse_band(order.band),
            order.set_emissivity,
            order.emissivity,
            parse_temperature(order.around or ROOM),
            around_given=bool(order.around),
        )
        check = replace(check, thermocouple_c=thermocouple_now(picture.status))
    except (QuantityError, ValueError) as error:
        raise ControlError(f"spot: {error}") from None
    against = "no thermocouple to compare with" if check.thermocouple_c is None else _against(check.difference_c)
    said = f"Spot check: {check.corrected_c:.0f} ± {spot_uncertainty_c(check):.0f} °C, {against}"
    if order.reading.rstrip().upper().endswith("F"):
        said = in_fahrenheit(said)
    return Command(0.0, CommandName.NOTE, text=note_text(check), by=by), said


def _against(difference_c: float | None) -> str:
    if not difference_c or not round(difference_c):
        return "as the thermocouple has it"
    return f"{abs(difference_c):.0f} °C {'more' if difference_c > 0 else 'less'} than the thermocouple"
