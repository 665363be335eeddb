"""Which names a board puts before its values, and which of them is what.

A name says much, a value's course the rest: a clock counts a thousand a second, a name with "ref" or "cold" in it is
the reference junction's, a number in °F beside the same in °C is no second probe. It is a guess, and said as one.
"""

import re
from collections.abc import Mapping, Sequence

import numpy as np

from rampwarden.bench.lines import HeardLine
from rampwarden.bench.number_courses import counts_up, is_clock
from rampwarden.formats import (
    MOST_CHANNELS,
    Item,
    JsonDecoder,
    LabelDecoder,
    NamedFormat,
    Naming,
    Unit,
    keys_in,
    labels_in,
)

_FEWEST = 3
_JUNCTION = re.compile(
    r"(?i)(?:^|[^a-z])(?:cj[ct]?|rj|cold|ref(?:erence)?|junction|amb(?:ient)?|int(?:ernal)?|board|chip|die)"
)
_FAULT = re.compile(r"(?i)(?:^|[^a-z])(?:fault|flt|err(?:or)?|status|alarm)")
_VOLTAGE = ((re.compile(r"(?i)(?:^|[^a-z])uv$"), Unit.UV), (re.compile(r"(?i)(?:^|[^a-z])mv$"), Unit.MV))
_FAHRENHEIT = re.compile(r"(?:^|[^A-Za-z])(?:[Ff]|deg_?F|fahrenheit)$")
# What a probe may be called; if no name is like it, every number may be one.
_PROBE = re.compile(
    r"(?i)(?:^|[^a-z])(?:tc|t|temp(?:erature)?s?|thermo\w*|hot|probe|pot|kiln|furnace|chamber|ch|c|k)(?:$|[^a-z])"
)
_OFF_BY = 0.6  # of a printed Fahrenheit, rounded to whole degrees

Course = Sequence[tuple[float, Item]]


def recognise_names(lines: Sequence[HeardLine]) -> NamedFormat | None:
    """Find out what names the lines have and which is what; None if they have none."""
    for naming, names_of in ((Naming.JSON, keys_in), (Naming.LABELS, labels_in)):
        named = [line for line in lines if names_of(line.text)]
        if len(named) >= _FEWEST and len(named) * 2 >= len(lines):
            names = tuple(dict.fromkeys(name for line in named for name in names_of(line.text)))[:MOST_CHANNELS]
            return _named(naming, _courses(naming, named, names))
    return None


def _courses(naming: Naming, lines: Sequence[HeardLine], names: tuple[str, ...]) -> dict[str, list[tuple[float, Item]]]:
    form = NamedFormat(naming, names)
    decoder = JsonDecoder(form) if naming is Naming.JSON else LabelDecoder(form)
    courses: dict[str, list[tuple[float, Item]]] = {name: [] for name in names}
    for line in lines:
        for name, item in (decoder.find(line.text) or {}).items():
            if isinstance(item, Item):
                courses[name].append((line.arrived_s, item))
    return courses


def _named(naming: Naming, courses: Mapping[str, Course]) -> NamedFormat | None:
    ms = fault = ""
    junctions: list[str] = []
    values: list[str] = []
    for name, course in courses.items():
        arrived_s = np.array([at_s for at_s, item in course if item.value is not None])
        numbers = np.array([item.value for _, item in course if item.value is not None])
        if len(course) < _FEWEST:
            continue
        whole = bool(len(numbers)) and bool(np.all(numbers == np.round(numbers)))
        if _FAULT.search(name):
            fault = fault or name
        elif len(numbers) >= _FEWEST and is_clock(arrived_s, numbers, whole=whole):
            ms = ms or name
        elif len(numbers) >= _FEWEST and whole and counts_up(numbers):
            continue
        elif _JUNCTION.search(name):
            junctions.append(name)
        elif len(numbers) or any(item.fault for _, item in course):
            values.append(name)
    likely = [name for name in values if _PROBE.search(name) or any(item.unit for _, item in courses[name])]
    values = _without_fahrenheit(likely or values, courses)
    if not values:
        return None
    junctions = junctions if len(junctions) == len(values) else junctions[:1]
    unit = _unit(values[0], courses[values[0]])
    if unit.is_voltage and not junctions:
        unit = Unit.C
    return NamedFormat(naming, tuple(values), tuple(junctions), ms, fault, unit)


def _without_fahrenheit(names: Sequence[str], courses: Mapping[str, Course]) -> list[str]:
    """Leave out what only repeats another value in °F."""
    return [
        name
        for name in names
        if not any(other != name and _is_same_in_f(courses[other], courses[name]) for other in names)
    ]


def _is_same_in_f(celsius: Course, fahrenheit: Course) -> bool:
    pairs = [
        (one.value, two.value)
        for (_, one), (_, two) in zip(celsius, fahrenheit, strict=False)
        if one.value is not None and two.value is not None
    ]
    return bool(pairs) and all(abs(c * 1.8 + 32.0 - f) <= _OFF_BY for c, f in pairs)


def _unit(name: str, course: Course) -> Unit:
    """Give what numbers without a unit are in, by their name."""
    if all(item.unit is not None for _, item in course):
        return Unit.C  # every line says it itself
    for pattern, unit in _VOLTAGE:
        if pattern.search(name):
            return unit
    return Unit.F if _FAHRENHEIT.search(name) else Unit.C
