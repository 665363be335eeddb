"""Between settings, watch and register: where the register is, what to say at the start, what to enter at the end.

Nothing here can stop a watch: a register that is lost, locked or from a newer version becomes a sentence, and the heat
is entered later from its record. Also makes a plan's workshop out of settings.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from rampwarden.core.physics import GasSupply, PotWall
from rampwarden.core.pot import PotStanding
from rampwarden.core.schedule import Schedule
from rampwarden.errors import RampwardenError, UnknownMarkError
from rampwarden.plan import CLASSES, BottleSettings, CrucibleClass, Probe, Workshop, bottle_of, class_named
from rampwarden.records import (
    NEAR,
    Crucible,
    History,
    Register,
    RegisteredHeat,
    figures_of,
    nearest_limit,
    retire_standings,
    warnings,
)
from rampwarden.settings import Settings

_LATER = "the heat is watched all the same and can be entered later: rampwarden crucible enter"
# A locked register may not hold up the start of a watch: what it would say, it says too late.
_START_PATIENCE_S = 0.5


@dataclass(frozen=True, slots=True)
class KnownPot:
    """What a watch must know of its pot: its top (°C), where it stands, its wall, whether its class burns in air.

    None where nobody has said or none can tell; `trouble` is why the register cannot be read, if it is that.
    """

    top_c: float | None = None
    standing: PotStanding | None = None
    oxidises: bool = True
    wall: PotWall | None = None
    trouble: str = ""


def register_path(settings: Settings) -> Path:
    """Give the register's file: the one set, else one beside the folder of the records."""
    return settings.watch.crucible_register or settings.watch.records.parent / "crucibles.sqlite"


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
        with Register.open(register_path(settings), patience_s=_START_PATIENCE_S) as register:
            crucible, life = register.crucible(mark), register.life(mark, today)
            return [
                *warnings(crucible, life, schedule, settings.watch.metal),
                *_near_retirement(crucible, register.history(mark)),
                *_unseen(crucible.mark, register.heats(crucible.mark)),
            ]
    except RampwardenError as error:
        return [f"{error}; {_LATER}"]


def _near_retirement(crucible: Crucible, history: History) -> list[str]:
    """Say that a pot is near the end that its owner has set for it, or past it."""
    masses = crucible.mass_new_kg, history.last_mass_kg
    nearest = nearest_limit(tuple(retire_standings(crucible.retire_at, *masses, history.hot_h, history.heats)))
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
    whether the pot is new.
    """
    if not mark:
        return KnownPot()
    try:
        with Register.open(register_path(settings), patience_s=_START_PATIENCE_S) as register:
            crucible, life = register.crucible(mark), register.life(mark, today)
    except UnknownMarkError:
        return KnownPot()
    except RampwardenError as error:
        return KnownPot(trouble=f"{error}; {_LATER}")
    known = class_named(crucible.crucible_class)
    oxidises = known is None or CLASSES[known].oxidises
    return KnownPot(crucible.sheet_top_c, life.standing, oxidises, pot_wall(known, crucible.wall_mm))


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


def enter_heat(settings: Settings, mark: str, record: Path) -> tuple[str, bool]:
    """Enter a heat that has just been closed; gives what came of it in words, and whether all is well.

    Reads the whole record again, a few seconds for a day of readings.
    """
    try:
        with Register.open(register_path(settings)) as register:
            mark = register.crucible(mark).mark
            figures = figures_of(record)
            if figures.account is None or not figures.account.was_heat:
                return f"not entered for {mark}: it was no heat: nothing was ever warm", True
            register.enter(mark, figures, figures.account)
            later = "" if figures.rehearsal else "; once it is cold, weigh it and look at it: rampwarden crucible enter"
            return f"entered for {mark} · see: rampwarden crucible show {mark}{later}", True
    except RampwardenError as error:
        return f"not entered: {error}; when that is mended: rampwarden crucible enter {record}", False
