"""What was reckoned of the pot's own physics, as a report prints it; nothing where nothing was."""

from collections.abc import Iterator, Sequence

from rampwarden.core.model import GasFigures, WallPeak
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
        needed = "" if supply is None else f", below the {supply.needed_bar:g} bar that are needed"
        from_at = clock(gas.short_at_s)
        sentences.append(f"From {from_at} on the pressure was reckoned down to {gas.lowest_bar:.1f} bar{needed}.")
    if gas.weighed_kg is None:
        sentences.append("Weigh the bottle: only the difference of two weights shows what the burner takes.")
    return Section("The gas", tuple(sentences), Table(("", "planned", "this heat"), tuple(rows)))
