"""The classes a crucible can be of: bond and body in general terms, and what is known of such a wall.

Diffusivities and conductivities of bricks: VDI Heat Atlas, as the library `ht` 1.2.0 tabulates them at 400 and 1000 °C
(the lower diffusivity of the two is taken). Young's modulus, expansion and strength are handbook-typical middles of
wide ranges and have no source; nor has anything of the graphite-bearing wall. Whoever wants better asks the maker.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from rampwarden.plan.wall import Body


class CrucibleClass(StrEnum):
    """Bond and body of a crucible, by the same words as a schedule's `crucible_class`."""

    CLAY_GRAPHITE = "clay-graphite"
    CARBON_BONDED_SIC = "carbon-bonded-sic"
    CERAMIC_BONDED_SIC = "ceramic-bonded-sic"
    DENSE_ALUMINA = "dense-alumina"
    MULLITE = "mullite"
    FIRECLAY = "fireclay"
    ZIRCONIA = "zirconia"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class ClassData:
    """One class. `oxidises`: dose and time in the prone range count against it. `also_fits`: schedules that suit too.

    `inverts_c` are temperatures, °C, at which its minerals change length with a jump. `body` is None where nothing is
    known, and then no ramp is estimated.
    """

    description: str
    body: Body | None
    oxidises: bool = False
    inverts_c: tuple[float, ...] = ()
    also_fits: tuple[CrucibleClass, ...] = ()


_TYPICAL = "handbook-typical figures without a source"
_GRAPHITE_WALL = Body(
    diffusivity_m2_per_s=5.3e-6,  # of 4 to 8e-6
    conductivity_w_per_m_k=12.0,  # of 8 to 20, and it falls with use
    young_gpa=12.0,  # of 6 to 20
    expansion_per_k=4.0e-6,  # of 3 to 5e-6
    strength_mpa=8.0,  # of 5 to 15
    poisson=0.15,
    source=_TYPICAL,
)
_BRICK = f"VDI Heat Atlas for heat, {_TYPICAL} for strength"

CLASSES: Mapping[CrucibleClass, ClassData] = MappingProxyType(
    {
        CrucibleClass.CLAY_GRAPHITE: ClassData(
            "clay or ceramic bond, graphite body", _GRAPHITE_WALL, oxidises=True, inverts_c=(573.0,)
        ),
        CrucibleClass.CARBON_BONDED_SIC: ClassData(
            "resin or tar bond, silicon carbide and graphite body", _GRAPHITE_WALL, oxidises=True
        ),
        # Its bond resists oxidation, so its makers' schedules take their time; the dose is shown and not judged.
        CrucibleClass.CERAMIC_BONDED_SIC: ClassData(
            "ceramic bond, silicon carbide body, with graphite or without",
            # VDI: silicon carbide brick of 40 %. Of 20 to 60 GPa, 4.5 to 5e-6, 10 to 30 MPa.
            Body(1.76e-6, 4.2, 40.0, 4.75e-6, 20.0, 0.16, _BRICK),
        ),
        CrucibleClass.DENSE_ALUMINA: ClassData(
            "sintered alumina above 99 %",
            # Of 340 to 390 GPa, 250 to 350 MPa; conductivity and diffusivity at 1000 °C from memory.
            Body(1.3e-6, 6.0, 365.0, 8.0e-6, 300.0, 0.22, _TYPICAL),
        ),
        CrucibleClass.MULLITE: ClassData(
            "sintered mullite",
            # VDI: mullite brick. Of 20 to 40 GPa, 4.5 to 5.5e-6, 8 to 20 MPa.
            Body(5.78e-7, 1.45, 30.0, 5.0e-6, 14.0, 0.2, _BRICK),
            also_fits=(CrucibleClass.DENSE_ALUMINA,),
        ),
        CrucibleClass.FIRECLAY: ClassData(
            "fired clay, silica-bearing",
            # VDI: fireclay brick. Of 8 to 20 GPa, 5 to 6e-6, 4 to 10 MPa.
            Body(5.11e-7, 1.05, 12.0, 5.5e-6, 6.0, 0.2, _BRICK),
            # Quartz: 573 °C, 0.45 % in length, handbook-typical, no source. Cristobalite: near 220 °C, 200 to 270, from
            # memory.
            inverts_c=(220.0, 573.0),
        ),
        CrucibleClass.ZIRCONIA: ClassData(
            "stabilised zirconia",
            # VDI: zirconia brick. Of 20 to 100 GPa, 7 to 10e-6, 8 to 20 MPa.
            Body(4.0e-7, 1.43, 25.0, 8.0e-6, 10.0, 0.25, _BRICK),
            # The part that is not stabilised: heating near 1170, cooling near 950 °C, from memory.
            inverts_c=(950.0, 1170.0),
        ),
        CrucibleClass.OTHER: ClassData("anything else: no ramp is estimated for it", None),
    }
)


def class_named(name: str) -> CrucibleClass | None:
    """Give the class of that name; None for one that is not known here."""
    return next((known for known in CrucibleClass if known == name), None)


def schedule_fits(schedule_class: str, crucible_class: str) -> bool:
    """Tell whether a schedule for one class suits a crucible of another; a schedule that names none suits all."""
    known = class_named(crucible_class)
    others = CLASSES[known].also_fits if known else ()
    return schedule_class in ("", crucible_class, *others)
