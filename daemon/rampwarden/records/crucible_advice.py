"""What to say of a crucible before it is heated: in plain words, refusing nothing.

Knows the crucible, what its heats come to, and the schedule; what day it is, it is told.
"""

from datetime import date

from rampwarden.core.schedule import HeatNumber, Schedule
from rampwarden.plan import Judgement, Verdict, drying_soak, judge_sheet, lay_out, schedule_fits
from rampwarden.records.crucibles import Crucible, History, pot_of

# After one to two weeks in damp air a pot is dried again; the longer, for most workshops are heated.
# Common practice, no source.
_IDLE_DAYS = 14
# From where a schedule is laid out to be held against the sheet; colder or warmer changes no limit.
_AMBIENT_C = 20.0


def must_dry(crucible: Crucible, history: History, today: date) -> str:
    """Say why a crucible needs drying, as the end of a sentence; empty if it does not."""
    last = _day(history.last)
    if history.heats == 0 and not crucible.first_used:
        return "the crucible is new"
    damp_since = _day(crucible.stored_on)
    if crucible.stored == "damp" and (last is None or damp_since is None or last <= damp_since):
        return "it was stored damp"
    used = last or _day(crucible.first_used)
    idle_days = (today - used).days if used else 0
    if idle_days > _IDLE_DAYS:
        return f"it has stood for {idle_days} days"
    return ""


def judge_crucible(crucible: Crucible, history: History, schedule: Schedule, metal: str) -> list[Judgement]:
    """Judge what only the register can tell: retired, another metal, a first heat; nothing where nothing is wrong.

    `metal` is what is to be melted, empty if nobody has said.
    """
    judged = []
    mark = crucible.mark
    if crucible.retired:
        why = f" ({crucible.retired_why})" if crucible.retired_why else ""
        finding = f"{mark} was retired on {crucible.retired}{why}: do not heat it"
        judged.append(Judgement("crucible", Verdict.WILL_NOT_WORK, finding, "another crucible"))
    if metal and crucible.metal and metal.casefold() != crucible.metal.casefold():
        finding = f"{mark} is kept for {crucible.metal}, not {metal}: what is left in the wall spoils the melt"
        judged.append(Judgement("crucible", Verdict.LOOK_AGAIN, finding, f"a crucible kept for {metal}"))
    first = history.heats == 0 and not crucible.first_used
    if first and schedule.heat is HeatNumber.LATER:
        finding = f"this is the first heat of {mark}, and the schedule is for later ones"
        judged.append(Judgement("crucible", Verdict.LOOK_AGAIN, finding, "a first-heat schedule"))
    return judged


def warnings(crucible: Crucible, history: History, schedule: Schedule, metal: str, today: date) -> list[str]:
    """Give what speaks against this heat, one sentence each and the gravest first; none if nothing does.

    `metal` is what is to be melted, empty if nobody has said.
    """
    mark = crucible.mark
    timeline = lay_out(schedule, _AMBIENT_C)
    judged = judge_crucible(crucible, history, schedule, metal)
    judged += [judgement for judgement in judge_sheet(timeline, pot_of(crucible, "")) if judgement.remedy]
    said = [
        f"{judgement.topic}: {judgement.finding}; what would help: {judgement.remedy}"
        for judgement in sorted(judged, key=lambda judgement: judgement.verdict is not Verdict.WILL_NOT_WORK)
    ]
    if not schedule_fits(schedule.crucible_class, crucible.crucible_class):
        said.append(f"class: the schedule is for {schedule.crucible_class}, and {mark} is {crucible.crucible_class}")
    dry = must_dry(crucible, history, today)
    if dry and drying_soak(schedule) is None:
        said.append(
            f"drying: {dry}, and the schedule does not dry {mark}; what would help: a soak at 150 to 200 °C first"
        )
    return said


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None
