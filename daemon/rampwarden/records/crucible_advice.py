"""What to say of a crucible before it is heated: in plain words, refusing nothing.

Knows the crucible, what its life comes to, and the schedule. What it is ready for is the core's word.
"""

import shlex

from rampwarden.core.pot import NEW_POT, Readiness, Ready, Why, readiness_sentence, reason_sentences
from rampwarden.core.schedule import HeatNumber, Schedule
from rampwarden.plan import Judgement, Verdict, drying_soak, judge_sheet, lay_out, schedule_fits
from rampwarden.records.crucibles import Crucible, pot_of
from rampwarden.records.register_life import PotLife

# From where a schedule is laid out to be held against the sheet; colder or warmer changes no limit.
_AMBIENT_C = 20.0
_DAMP = {Why.STORED_DAMP: "was stored damp", Why.STOOD_LONG: "had stood for weeks, and no drying has been shown since"}


def readiness_words(readiness: Readiness) -> str:
    """Say what a pot is ready for and why, as every command does."""
    return " ".join((readiness_sentence(readiness), *reason_sentences(readiness)))


def must_dry(life: PotLife) -> str:
    """Say why a crucible needs drying, as the end of a sentence; empty if it does not."""
    standing = life.standing
    if standing.dry:
        return ""
    if life.stood_days:
        return f"it has stood for {life.stood_days} days"
    if standing.damp_since is NEW_POT.damp_since:
        return "no drying of it has been shown" if life.heats else "the crucible is new"
    return f"it {_DAMP.get(standing.damp_since, 'may be damp')}"


def judge_crucible(crucible: Crucible, life: PotLife, schedule: Schedule, metal: str) -> list[Judgement]:
    """Judge what only the register can tell: what it is ready for, retired, another metal, a first heat.

    `metal` is what is to be melted, empty if nobody has said. Only the first is there where nothing is wrong.
    """
    judged = [_judge_readiness(crucible, life, schedule)]
    mark = crucible.mark
    if crucible.retired:
        why = f" ({crucible.retired_why})" if crucible.retired_why else ""
        finding = f"{mark} was retired on {crucible.retired}{why}: do not heat it"
        judged.append(Judgement("crucible", Verdict.WILL_NOT_WORK, finding, "another crucible"))
    if metal and crucible.metal and metal.casefold() != crucible.metal.casefold():
        finding = f"{mark} is kept for {crucible.metal}, not {metal}: what is left in the wall spoils the melt"
        judged.append(Judgement("crucible", Verdict.LOOK_AGAIN, finding, f"a crucible kept for {metal}"))
    if not life.standing.soaked and schedule.heat is HeatNumber.LATER:
        finding = f"this is the first heat of {mark}, and the schedule is for later ones"
        if life.heats:
            finding = f"the first heat of {mark} is not behind it, and the schedule is for later ones"
        judged.append(Judgement("crucible", Verdict.LOOK_AGAIN, finding, "a first-heat schedule"))
    return judged


def warnings(crucible: Crucible, life: PotLife, schedule: Schedule, metal: str) -> list[str]:
    """Give what speaks against this heat, one sentence each and the gravest first; none if nothing does.

    `metal` is what is to be melted, empty if nobody has said.
    """
    mark = crucible.mark
    timeline = lay_out(schedule, _AMBIENT_C)
    judged = judge_crucible(crucible, life, schedule, metal)
    judged += judge_sheet(timeline, pot_of(crucible, ""))
    said = [
        f"{judgement.topic}: {judgement.finding}; what would help: {judgement.remedy}"
        for judgement in sorted(judged, key=lambda judgement: judgement.verdict is not Verdict.WILL_NOT_WORK)
        if judgement.remedy
    ]
    if not schedule_fits(schedule.crucible_class, crucible.crucible_class):
        said.append(f"class: the schedule is for {schedule.crucible_class}, and {mark} is {crucible.crucible_class}")
    dry = must_dry(life)
    if dry and drying_soak(schedule) is None:
        said.append(
            f"drying: {dry}, and the schedule does not dry {mark}; what would help: a soak at 150 to 200 °C first"
        )
    return said


def _judge_readiness(crucible: Crucible, life: PotLife, schedule: Schedule) -> Judgement:
    """Say what the pot is ready for; a remedy only where this schedule does not give what it needs."""
    ready, later = life.readiness.ready, schedule.heat is HeatNumber.LATER
    remedy = ""
    if ready is Ready.INSPECT_FIRST:
        remedy = (
            "look at it cold and tap it; if it is sound: "
            f"rampwarden crucible amend {shlex.quote(crucible.mark)} --looked-at 'what you saw'"
        )
    elif ready is Ready.DRY_FIRST and drying_soak(schedule) is None:
        remedy = "a schedule that dries it"
    elif ready is not Ready.READY and later and not life.standing.soaked:
        remedy = "a first-heat schedule"
    verdict = Verdict.LOOK_AGAIN if remedy else Verdict.FINE
    finding = readiness_words(life.readiness).removesuffix(".")
    if not remedy and ready is not Ready.READY:
        finding += "; this schedule is for that"
    return Judgement("readiness", verdict, finding, remedy, {"ready": str(ready)})
