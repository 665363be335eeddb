"""Wall, gas and water in the words of the Homie convention: what is reckoned of the pot's own physics.

Each value is absent where nothing is known to reckon with; what is estimated says so in its name.
"""

from collections.abc import Callable
from typing import TypeVar

from rampwarden.core.model import GasState, HeatStatus, WallState, WaterState
from rampwarden.core.physics import gas_words, wall_words
from rampwarden.outputs.mqtt.homie_payloads import duration, moment, number, text
from rampwarden.outputs.mqtt.homie_property import RENEWED_S, HeatFacts, Property
from rampwarden.outputs.status_line import water_words

S = TypeVar("S")
Value = Callable[[HeatStatus, HeatFacts], str | None]


def _of(part: Callable[[HeatStatus], S | None], say: Callable[[S], str | None]) -> Value:
    """Give what says something of a part of the status; nothing where the part is not known."""

    def value(status: HeatStatus, _: HeatFacts) -> str | None:
        known = part(status)
        return None if known is None else say(known)

    return value


def _wall(say: Callable[[WallState], str | None]) -> Value:
    return _of(lambda status: status.wall, say)


def _gas(say: Callable[[GasState], str | None]) -> Value:
    return _of(lambda status: status.gas, say)


def _water(say: Callable[[WaterState], str | None]) -> Value:
    return _of(lambda status: status.water, say)


def _greatest_k(wall: WallState) -> float | None:
    return None if wall.in_heat is None else abs(wall.in_heat.through_k)


def _moment(value: Callable[[WaterState], float | None]) -> Value:
    """Give a moment of the water's, as wall time."""

    def say(status: HeatStatus, heat: HeatFacts) -> str | None:
        at_s = None if status.water is None else value(status.water)
        return None if at_s is None else moment(heat.started, at_s)

    return say


PHYSICS_NODES: dict[str, tuple[str, dict[str, Property]]] = {
    "wall": (
        "The pot's wall: an estimate, good to a factor of two",
        {
            "through": Property(
                "Difference through the wall now, outer face less inner",
                "float",
                _wall(lambda wall: number(wall.through_k)),
                unit="K",
                settle_s=5.0,
            ),
            "greatest": Property(
                "Greatest difference of this heat", "float", _wall(lambda wall: number(_greatest_k(wall))), unit="K"
            ),
            "strength-share": Property(
                "Of what such a wall stands by handbook figures",
                "float",
                _wall(lambda wall: number(100.0 * wall.strength_share)),
                unit="%",
                settle_s=5.0,
            ),
            "text": Property("The same in words", "string", _wall(lambda wall: text(wall_words(wall))), settle_s=5.0),
        },
    ),
    "gas": (
        "The gas, reckoned by the burner's power and what is weighed or read",
        {
            "left": Property(
                "Left in all bottles", "float", _gas(lambda gas: number(gas.left_kg, 2)), unit="kg", settle_s=5.0
            ),
            "liquid": Property(
                "Temperature of the liquid", "float", _gas(lambda gas: number(gas.liquid_c)), unit="°C", settle_s=5.0
            ),
            "pressure": Property(
                "Pressure on a gauge", "float", _gas(lambda gas: number(gas.gauge_bar, 2)), unit="bar", settle_s=5.0
            ),
            "short-in": Property(
                "Time until the pressure falls short; absent while it lasts",
                "duration",
                _gas(lambda gas: duration(gas.short_in_s)),
                settle_s=RENEWED_S,
            ),
            "short-left": Property(
                "Left in the bottles then", "float", _gas(lambda gas: number(gas.short_left_kg, 2)), unit="kg"
            ),
            "end-left": Property(
                "Left when the heat needs no more", "float", _gas(lambda gas: number(gas.end_left_kg, 2)), unit="kg"
            ),
            "text": Property("The same in words", "string", _gas(lambda gas: text(gas_words(gas))), settle_s=5.0),
        },
    ),
    "water": (
        "The pot's water while it dries",
        {
            "leaving-since": Property(
                "Water leaves, or the oven stands still", "datetime", _moment(lambda water: water.leaving_s)
            ),
            "left-since": Property("Its climb has recovered", "datetime", _moment(lambda water: water.left_s)),
            "gone": Property("Gone by the heat balance", "float", _water(lambda water: number(water.gone_g)), unit="g"),
            "gone-least": Property(
                "Gone at least",
                "float",
                _water(lambda water: number(None if water.gone_range_g is None else water.gone_range_g[0])),
                unit="g",
            ),
            "gone-most": Property(
                "Gone at most",
                "float",
                _water(lambda water: number(None if water.gone_range_g is None else water.gone_range_g[1])),
                unit="g",
            ),
            "dry": Property(
                "None leaves any more, by the heat balance",
                "boolean",
                _water(lambda water: "true" if water.is_dry else "false"),
            ),
            "text": Property("The same in words", "string", _water(lambda water: text(water_words(water)))),
        },
    ),
}
"""Nodes of the device by their ids."""
