"""Between settings, watch and register: where the register is, and what to say at the start.

Nothing here can stop a watch: a register that is lost, locked or from a newer version becomes a sentence, and the heat
is entered later from its record. A shop's server is waited for by a bound of our own, since one that is frozen answers
nothing at all. Also makes a plan's workshop out of settings. What is entered at the end: `entering`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from rampwarden.assembly.known_pots import copy_of, keep_copy
from rampwarden.assembly.patience import NoAnswerError, within
from rampwarden.assembly.register_place import register_place
from rampwarden.core.physics import DryHeat, GasSupply, PotWall
from rampwarden.core.pot import PotStanding
from rampwarden.core.schedule import Schedule
from rampwarden.database import is_server, load_libraries, server_name
from rampwarden.errors import RampwardenError, RegisterError, UnknownMarkError
from rampwarden.plan import CLASSES, BottleSettings, CrucibleClass, Probe, Workshop, bottle_of, class_named
from rampwarden.records import (
    NEAR,
    PATIENCE_S,
    Crucible,
    History,
    Register,
    RegisteredHeat,
    nearest_limit,
    retirement_of,
    warnings,
)
from rampwarden.settings import Settings

_LATER = "the heat is watched all the same and can be entered later: rampwarden crucible enter"
_LATER_BY_ITSELF = "the heat is watched all the same and is entered by itself when the register answers"
# A locked register may not hold up the start of a watch: what it would say, it says too late.
_START_PATIENCE_S = 0.5
# Fired clay, silicon carbide and graphite at about 100 °C: 800 to 1000. Common practice, no source.
_J_PER_KG_K = 900.0
# A server is asked over a network, once, before the first reading; at the end somebody waits for us to go.
_SERVER_START_PATIENCE_S = 2.0
_SERVER_END_PATIENCE_S = 5.0

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class KnownPot:
    """What a watch must know of its pot: its top (°C), where it stands, its wall, whether its class burns in air.

    `capacity_j_per_k` by its mass, J/K; `dry_heat`: what a heat of it showed of the oven when it was dry.

    None where nobody has said or none can tell; `trouble` is why the register cannot be read, if it is that.
    """

    top_c: float | None = None
    standing: PotStanding | None = None
    oxidises: bool = True
    wall: PotWall | None = None
    capacity_j_per_k: float | None = None
    dry_heat: DryHeat | None = None
    trouble: str = ""


def workshop(settings: Settings) -> Workshop:
    """Give the workshop as a plan takes it."""
    shop, couple = settings.workshop, settings.thermocouple
    bottle = BottleSettings(
        full_kg=shop.bottle_kg,
        gross_kg=shop.gross_kg,
        tare_kg=shop.tare_kg,
        diameter_m=None if shop.bottle_mm is None else shop.bottle_mm / 1000.0,
        count=shop.bottles,
        needed_bar=shop.needed_bar,
        butane_share=None if shop.butane_percent is None else shop.butane_percent / 100.0,
        liquid_c=shop.bottle_at,
    )
    return Workshop(
        ambient_c=shop.ambient,
        gas=shop.fuel == "propane",
        burner_kw=shop.burner_kw or {},
        bottle=bottle,
        probe=Probe(couple.type, couple.tolerance_class, shop.wire_mm, shop.sheath_mm, shop.sheath, couple.place),
    )


def gas_supply(settings: Settings) -> GasSupply | None:
    """Give bottle and burner as the watch follows them; None where either is not known, or no gas burns."""
    shop = workshop(settings)
    bottle = bottle_of(shop.bottle)
    if not shop.gas or not shop.burner_kw or bottle is None:
        return None
    known = shop.bottle
    return GasSupply(
        bottle=bottle,
        ambient_c=shop.ambient_c,
        liquid_c=shop.ambient_c if known.liquid_c is None else known.liquid_c,
        needed_bar=known.needed_bar,
        burner_kw=dict(shop.burner_kw),
        count=known.count,
        tare_kg=known.tare_kg,
        weighed=known.gross_kg is not None and known.tare_kg is not None,
    )


def start_warnings(settings: Settings, mark: str, schedule: Schedule, today: date) -> list[str]:
    """Give what is to be said of the crucible before it is heated; refuses nothing and raises nothing.

    Without a mark there is nothing to say.
    """
    if not mark:
        return []
    try:
        return _at_start(settings, lambda books: _warnings(settings, books, mark, schedule, today))
    except RampwardenError as error:
        return [f"{error}; {later_words(settings)}"]


def _warnings(settings: Settings, books: Register, mark: str, schedule: Schedule, today: date) -> list[str]:
    crucible, life = books.crucible(mark), books.life(mark, today)
    return [
        *warnings(crucible, life, schedule, settings.watch.metal),
        *_near_retirement(crucible, books.history(mark)),
        *_unseen(crucible.mark, books.heats(crucible.mark)),
    ]


def _near_retirement(crucible: Crucible, history: History) -> list[str]:
    """Say that a pot is near the end that its owner has set for it, or past it."""
    nearest = nearest_limit(retirement_of(crucible, history))
    if nearest is None or nearest.share is None or nearest.share < NEAR or crucible.retired:
        return []
    stands = "has reached" if nearest.share >= 1.0 else f"is at {nearest.share:.0%} of"
    return [f"crucible: {crucible.mark} {stands} the rule to retire it: {nearest.words}"]


def _unseen(mark: str, heats: Sequence[RegisteredHeat]) -> list[str]:
    """Say that nobody has told what a pot was like after its last heat."""
    last = next((heat for heat in reversed(heats) if not heat.figures.rehearsal), None)
    if last is None or last.mass_after_kg is not None or last.look:
        return []
    when = last.figures.started[:10]
    return [
        f"crucible: what {mark} weighed and looked like after its heat of {when} is not told: rampwarden crucible enter"
    ]


def known_pot(settings: Settings, mark: str, today: date) -> KnownPot:
    """Give what the register knows of this crucible as of `today` (in UTC).

    Without a register that can be read the watch goes on with the schedule's own ceilings, and its schedule says
    whether the pot is new; of a shop's register it has what was last said of the pot here.
    """
    if not mark:
        return KnownPot()
    of_shop = is_server(register_place(settings))
    try:
        crucible, life, mass_kg, dry_heat = _at_start(
            settings,
            lambda books: (
                books.crucible(mark),
                books.life(mark, today),
                books.history(mark).last_mass_kg,
                books.dry_heat(mark),
            ),
        )
    except UnknownMarkError:
        return KnownPot()
    except RampwardenError as error:
        trouble = f"{error}; {later_words(settings)}"
        copy = copy_of(settings.watch.records, mark) if of_shop else None
        if copy is None:
            return KnownPot(trouble=trouble)
        trouble = f"{trouble}; {mark} is taken for what was known of it on {copy.day}"
        return _known_of(copy.crucible, None, None, None, trouble)
    if of_shop:
        keep_copy(settings.watch.records, crucible, today)
    return _known_of(crucible, life.standing, mass_kg, dry_heat)


def _known_of(
    crucible: Crucible,
    standing: PotStanding | None,
    mass_kg: float | None,
    dry_heat: DryHeat | None,
    trouble: str = "",
) -> KnownPot:
    known = class_named(crucible.crucible_class)
    oxidises = known is None or CLASSES[known].oxidises
    wall = pot_wall(known, crucible.wall_mm)
    mass_kg = mass_kg or crucible.mass_new_kg
    capacity = None if mass_kg is None else mass_kg * _J_PER_KG_K
    return KnownPot(crucible.sheet_top_c, standing, oxidises, wall, capacity, dry_heat, trouble)


def later_words(settings: Settings) -> str:
    """Say what becomes of a heat whose register could not be reached."""
    return _LATER_BY_ITSELF if is_server(register_place(settings)) else _LATER


def _at_start(settings: Settings, question: Callable[[Register], T]) -> T:
    on_server = is_server(register_place(settings))
    return _asked(settings, question, _SERVER_START_PATIENCE_S if on_server else _START_PATIENCE_S)


def asked_at_end(settings: Settings, question: Callable[[Register], T]) -> T:
    """Ask the register what concerns a heat that has ended; raises `RegisterError`."""
    on_server = is_server(register_place(settings))
    return _asked(settings, question, _SERVER_END_PATIENCE_S if on_server else PATIENCE_S)


def _asked(settings: Settings, question: Callable[[Register], T], patience_s: float) -> T:
    """Ask the register; raises `RegisterError`, for a server after `patience_s` at the latest."""
    place = register_place(settings)

    def ask() -> T:
        with Register.open(place, patience_s=patience_s) as books:
            return question(books)

    if not isinstance(place, str):
        return ask()
    load_libraries()
    try:
        return within(patience_s, ask)
    except NoAnswerError:
        raise RegisterError(f"{server_name(place)}: the register does not answer") from None


def pot_wall(crucible_class: CrucibleClass | None, wall_mm: float | None) -> PotWall | None:
    """Give a wall of this class and thickness as the watch follows it; None where either, or its body, is not known."""
    body = None if crucible_class is None else CLASSES[crucible_class].body
    if body is None or wall_mm is None:
        return None
    return PotWall(
        thickness_m=wall_mm / 1000.0,
        diffusivity_m2_per_s=body.diffusivity_m2_per_s,
        conductivity_w_per_m_k=body.conductivity_w_per_m_k,
        stands_k=round(body.shock_resistance_k, 2),
    )
