"""Before the burner is lit: can this plan work? Formulas of wall, gas, probe and graphite, and what they say of a heat.

As pure as the core and below everything that reads or writes. Every figure says beside it what it rests on: a source,
*common practice, no source*, or *handbook-typical, no source* for what books give as a range.
"""

from typing import TYPE_CHECKING

from rampwarden.lazy_face import lazy_face

if TYPE_CHECKING:
    from rampwarden.plan.bodies import CLASSES, CrucibleClass, class_named, schedule_fits
    from rampwarden.plan.drafting import DraftWishes, draft_schedule, wishes_of_usual
    from rampwarden.plan.drying import drying_soak
    from rampwarden.plan.heat_plan import HeatPlan, plan_heat
    from rampwarden.plan.judge_gas import bottle_of, planned_gas
    from rampwarden.plan.judge_wall import judge_sheet
    from rampwarden.plan.judgement import Judgement, Verdict
    from rampwarden.plan.oxidation import PRONE_C, relative_rate
    from rampwarden.plan.probe import Probe, ProbePlace, Sheath
    from rampwarden.plan.sheet import SheetLimit, parse_sheet_limit
    from rampwarden.plan.timeline import Stretch, lay_out
    from rampwarden.plan.workshop import BottleSettings, Pot, Workshop
else:
    __getattr__ = lazy_face(__name__)

__all__ = [
    "CLASSES",
    "PRONE_C",
    "BottleSettings",
    "CrucibleClass",
    "DraftWishes",
    "HeatPlan",
    "Judgement",
    "Pot",
    "Probe",
    "ProbePlace",
    "Sheath",
    "SheetLimit",
    "Stretch",
    "Verdict",
    "Workshop",
    "bottle_of",
    "class_named",
    "draft_schedule",
    "drying_soak",
    "judge_sheet",
    "lay_out",
    "parse_sheet_limit",
    "plan_heat",
    "planned_gas",
    "relative_rate",
    "schedule_fits",
    "wishes_of_usual",
]
