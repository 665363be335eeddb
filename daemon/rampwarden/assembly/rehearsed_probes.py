"""The probes of a rehearsal: those that are asked for or set up, on the one model board, as the settings name them."""

from collections.abc import Sequence

from rampwarden.plan import ProbePlace
from rampwarden.settings import ProbeSection, Settings
from rampwarden.sources import BesidePlace


def places_beside(settings: Settings, asked: Sequence[BesidePlace]) -> tuple[BesidePlace, ...]:
    """Give where the model furnace has probes beside the pot's: as `asked`, or as the settings' own stand."""
    set_up = {probe.place for probe in settings.probes.values()}
    if set_up and settings.thermocouple.place is not None:
        # The model's schedule is followed on its pot, whichever probe is followed otherwise.
        set_up.add(settings.thermocouple.place.value)
    return tuple(place for place in BesidePlace if (place in asked if asked else place in set_up))


def with_probes(settings: Settings, places: Sequence[BesidePlace], port: str) -> Settings:
    """Give settings for the model board at `port`, with these probes on its channels from 1 on.

    A probe keeps the name and the ceiling it has in the settings; without any it is called by its place. The model's
    are of type K and uncalibrated, and its followed one lies on the pot.
    """
    probes = {}
    for channel, place in enumerate(places, start=1):
        named = ((name, probe) for name, probe in settings.probes.items() if probe.place == place)
        name, known = next(named, (str(place), None))
        ceiling_c = None if known is None else known.ceiling
        probes[name] = ProbeSection(channel=channel, place=place.value, ceiling=ceiling_c)
    board = settings.board.model_copy(update={"port": port})
    changed: dict[str, object] = {"board": board, "probes": probes, "boards": {}}
    if probes:
        changed["thermocouple"] = settings.thermocouple.model_copy(update={"place": ProbePlace.POT})
    return settings.model_copy(update=changed)
