"""The probes beside the followed one in the words of the Homie convention: a node each, `probe-<name>`.

Everything in it is live: what a probe that is gone read last must not stay for whoever looks later.
"""

from collections.abc import Callable, Iterable

from rampwarden.core.model import HeatStatus, ProbeStatus, Quality
from rampwarden.outputs.mqtt.homie import STALE_S, Node
from rampwarden.outputs.mqtt.homie_payloads import moment, number, text
from rampwarden.outputs.mqtt.homie_property import HeatFacts, Property

_Value = Callable[[HeatStatus, HeatFacts], str | None]


def nodes_of_probes(names: Iterable[str]) -> dict[str, Node]:
    """Give the node of each probe by its id."""
    return {f"probe-{name}": _node(name) for name in names}


def _node(name: str) -> Node:
    def of_probe(value: Callable[[ProbeStatus, HeatStatus, HeatFacts], str | None]) -> _Value:
        def found(status: HeatStatus, heat: HeatFacts) -> str | None:
            probe = next((each for each in status.probes if each.probe == name), None)
            return None if probe is None else value(probe, status, heat)

        return found

    return f"Probe {name}", {
        "temperature": Property(
            "Temperature", "float", of_probe(lambda probe, status, _: number(_live_c(probe, status))), unit="°C"
        ),
        "uncertainty": Property(
            "How far it may be off, ±, k = 2",
            "float",
            of_probe(lambda probe, status, _: None if _is_stale(probe, status) else number(probe.expanded_c)),
            unit="°C",
            settle_s=5.0,
        ),
        "quality": Property(
            "Quality",
            "enum",
            of_probe(lambda probe, status, _: (Quality.BAD if _is_stale(probe, status) else probe.quality).value),
            format=",".join(each.value for each in Quality),
        ),
        "place": Property("Where it hangs", "string", of_probe(lambda probe, _, __: text(probe.place))),
        "reading-time": Property(
            "Time of the reading",
            "datetime",
            of_probe(lambda probe, _, heat: None if probe.read_s is None else moment(heat.started, probe.read_s)),
            settle_s=5.0,
        ),
    }


def _is_stale(probe: ProbeStatus, status: HeatStatus) -> bool:
    return probe.temp_c is None or probe.read_s is None or status.time_s - probe.read_s > STALE_S


def _live_c(probe: ProbeStatus, status: HeatStatus) -> float | None:
    return None if _is_stale(probe, status) else probe.temp_c
