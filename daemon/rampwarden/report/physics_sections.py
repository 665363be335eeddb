"""What was reckoned of the pot's own physics, as a report prints it; nothing where nothing was."""

from collections.abc import Iterator, Sequence

from rampwarden.core.model import GasFigures, WallPeak, WaterState
from rampwarden.core.quantities import format_duration
from rampwarden.plan import planned_gas
from rampwarden.report.content import Section, Table
from rampwarden.report.course import Course
from rampwarden.report.units import Scale, clock
from rampwarden.terminal_text import printable


def physics_sections(course: Course, scale: Scale) -> Iterator[Section]:
    """Give a section for each thing that was followed."""
    physics = course.figures.physics
    if physics is None:
        return
    if physics.wall:
        yield _wall_section(course, physics.wall, scale)
    if physics.water is not None:
        yield _water_section(physics.water)
    if physics.gas is not None:
        yield _gas_section(course, physics.gas)


def _wall_section(course: Course, peaks: Sequence[WallPeak], scale: Scale) -> Section:
    """Give the greatest difference through the wall, and that of each segment."""
    names = {part.number: part.name for part in course.figures.segments}
    greatest = max(peaks, key=lambda peak: abs(peak.through_k))
    sentences = (
        f"Greatest difference through the wall {scale.show_difference(abs(greatest.through_k))} at "
        f"{clock(greatest.at_s)}, in segment {printable(names.get(greatest.segment, str(greatest.segment)))}.",
        "An estimate: the share of what such a wall stands is by handbook figures, good to a factor of two. What one "
        "probe does not see, a flame on one side or steam in the wall, is not in it.",
    )
    rows = tuple(
        (
            str(peak.segment),
            printable(names.get(peak.segment, "–")),
            clock(peak.at_s),
            scale.show_difference(abs(peak.through_k)),
            f"the {'outer' if peak.through_k > 0.0 else 'inner'} face",
            f"{peak.strength_share:.0%}",
        )
        for peak in peaks
    )
    headings = ("", "segment", "at", "greatest difference", "hotter", "of what it stands")
    return Section("The wall", sentences, Table(headings, rows, numbers=(0, 2, 3, 5)))


def _gas_section(course: Course, gas: GasFigures) -> Section:
    """Give what the plan said of the gas and what the heat took, side by side."""
    supply = course.parameters.gas
    planned = None if supply is None else planned_gas(course.schedule, supply.ambient_c, supply.burner_kw)
    rows = [("burned for", "–" if planned is None else format_duration(planned[1]), format_duration(gas.burned_s))]
    used = f"{gas.used_kg:.2f} kg by the burner's power"
    if gas.weighed_kg is not None:
        used = f"{gas.weighed_kg:.2f} kg by weight ({used})"
    rows.append(("gas", "–" if planned is None else f"{planned[0]:.2f} kg", used))
    sentences = [f"About {gas.left_kg:.1f} kg are left by reckoning."]
    if gas.changes:
        times = "once" if gas.changes == 1 else f"{gas.changes} times"
        sentences.append(f"The bottle was changed {times}.")
    if gas.short_at_s is not None:
        needed = "" if supply is None else f", below the {supply.needed_bar:g} bar the burner needs"
        from_at = clock(gas.short_at_s)
        sentences.append(f"From {from_at} on the pressure was reckoned down to {gas.lowest_bar:.1f} bar{needed}.")
    if gas.weighed_kg is None:
        sentences.append("Weigh the bottle: only the difference of two weights shows what the burner takes.")
    return Section("The gas", tuple(sentences), Table(("", "planned", "this heat"), tuple(rows)))


def _water_section(water: WaterState) -> Section:
    """Give what the pot's climb showed of its water, and its weights beside it."""
    rows: list[tuple[str, str]] = []
    if water.leaving_s is not None:
        pace = "" if water.slowest is None else f", the climb down to {water.slowest:.0%} of its pace before"
        rows.append(("its climb slowed down", f"from {clock(water.leaving_s)} on{pace}"))
        left = "not seen: not shown to be dry" if water.left_s is None else f"from {clock(water.left_s)} on"
        rows.append(("and recovered", left))
    else:
        rows.append(("its climb", "showed no water leave, or was not seen whole"))
    if water.gone_g is not None and water.gone_range_g is not None:
        low_g, high_g = water.gone_range_g
        still = "; at the end none left any more" if water.is_dry else "; that was not shown to be all of it"
        rows.append(("by heat balance", f"{water.gone_g:.0f} g ({low_g:.0f} to {high_g:.0f}){still}"))
    for what, kg in (("weighed before", water.before_kg), ("weighed after", water.after_kg)):
        rows.append((what, "not told" if kg is None else f"{kg:.3f} kg"))
    if water.before_kg is not None and water.after_kg is not None:
        rows.append(("lost", f"{1000.0 * (water.before_kg - water.after_kg):.0f} g"))
    sentence = "A slow climb near 100 °C is water, or an oven that stood still; only its weight proves a pot dry."
    if water.is_dry:
        sentence = "Pot and oven side by side: what the oven gave at the end, the pot kept; nothing went into steam."
    return Section("The water", (sentence,), Table(("", ""), tuple(rows)))
