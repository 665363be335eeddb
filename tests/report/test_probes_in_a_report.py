"""Several probes in a report: a course each, how they part, and what stood in while the followed one was open."""

from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from invented_heat import GOOD, SCHEDULE, Line, write_record
from rampwarden.core.instrument.thermocouple import thermocouple
from rampwarden.report.course import Course, read_course
from rampwarden.report.drawing import draw_heat
from rampwarden.report.html_page import html_page
from rampwarden.report.probe_courses import StoodIn
from rampwarden.report.probes_section import probes_sections
from rampwarden.report.units import Scale

TYPE_K = thermocouple("K")
OPEN_S = range(2000, 2300, 5)
PROBES = [{"name": "gas-side", "place": "chamber"}, {"name": "bottle", "place": "bottle"}]


def pot_c(time_s: float) -> float:
    return float(np.interp(time_s, [at_s for at_s, _ in GOOD], [temp_c for _, temp_c in GOOD]))


def reading(probe: str, time_s: float, temp_c: float) -> Line:
    emf_uv = round(TYPE_K.emf_uv(temp_c) - TYPE_K.emf_uv(25.0), 1)
    return {"kind": "probe", "time_s": time_s, "probe": probe, "emf_uv": emf_uv, "junction_c": 25.0}


@pytest.fixture(scope="module")
def course(tmp_path_factory: pytest.TempPathFactory) -> Course:
    """A heat that was kept, its pot's probe open for five minutes on the way up; the chamber is 20 K hotter."""
    record = tmp_path_factory.mktemp("heat") / "a.jsonl"
    beside: list[Line] = []
    for at_s in range(1, 5300, 10):
        beside += [reading("gas-side", at_s, pot_c(at_s) + 20.0), reading("bottle", at_s + 1.0, 15.0)]
    beside.append({"kind": "probe", "time_s": 5298.0, "probe": "gas-side", "junction_c": 25.0, "faults": ["open"]})
    write_record(record, GOOD, beside, SCHEDULE, parameters={"probes": PROBES})
    lines = record.read_text(encoding="utf-8").splitlines()
    open_probe = '{"kind":"reading","time_s":SECONDS.0,"junction_c":25.0,"faults":["open"]}'
    opened = [open_probe.replace("SECONDS", str(at_s)) for at_s in OPEN_S]
    kept = [line for line in lines if '"reading"' not in line or not any(f": {at_s}.0," in line for at_s in OPEN_S)]
    first = next(place for place, line in enumerate(kept) if ": 2001" in line)
    kept = [*kept[:first], *opened, *kept[first:]]
    head, *body, end = kept
    body.sort(key=lambda line: float(line.split('"time_s":')[1].split(",")[0]))
    record.write_text("\n".join([head, *body, end]) + "\n", encoding="utf-8")
    return read_course(record)


def test_each_probe_has_its_course_and_how_it_parts_from_the_followed_one(course: Course) -> None:
    """A bottle's is compared with nothing."""
    chamber, bottle = course.probes
    assert (chamber.name, chamber.place, bottle.place) == ("gas-side", "chamber", "bottle")
    assert chamber.hottest_c == pytest.approx(821.0, abs=0.5)
    assert [each.mean_c for each in chamber.parting[10:190]] == pytest.approx([20.0] * 180, abs=1.5)
    assert bottle.parting == ()
    assert (chamber.said_nothing, bottle.said_nothing) == (1, 0)


def test_what_stood_in_is_kept_with_what_it_was_worth(course: Course) -> None:
    """The guess is the pot's temperature within its own doubt."""
    [stood] = course.stood_in
    assert stood.probe == "gas-side"
    assert OPEN_S[0] < stood.from_s < OPEN_S[0] + 20.0
    assert OPEN_S[-1] < stood.to_s < OPEN_S[-1] + 120.0
    for time_s, temp_c, off_c in stood.guesses:
        assert abs(temp_c - pot_c(time_s)) <= off_c


def test_the_drawing_tells_the_probes_apart_without_colour(course: Course) -> None:
    """Dash and marker differ, the guess is hatched, and the gap of the followed line is not drawn over."""
    axes = draw_heat(course, Scale()).axes
    labels = [each.get_ylabel() for each in axes]
    assert labels[3:5] == ["over the\nfollowed, K", "beside, °C"]
    named = [text.get_text() for text in axes[0].get_legend().get_texts()]
    assert "gas-side (chamber)" in named
    assert "guessed by another probe, as far as it may be off" in named
    assert [each.get_hatch() for each in axes[0].collections].count("////") == 1
    beside = [line for panel in (axes[0], axes[4]) for line in panel.lines if line.get_linestyle() == "--"]
    beside = [line for line in beside if line.get_marker() in ("s", "^")]
    looks = {(str(line.get_linestyle()), str(line._dash_pattern), str(line.get_marker())) for line in beside}
    assert len(looks) == 2


def test_the_sections_say_of_each_probe_what_it_showed(course: Course) -> None:
    """And of the time it stood in, what that was worth."""
    probes, stood = probes_sections(course, Scale())
    assert probes.table is not None
    chamber, bottle = probes.table.rows
    assert chamber[:3] == ("gas-side", "in the chamber", "821 °C")
    assert chamber[4].startswith("+2")
    assert (bottle[1], bottle[4], bottle[5]) == ("on the gas bottle", "–", "–")
    [sentence] = stood.sentences
    assert sentence.startswith("From 0:33 for 5 min")
    assert "by the gas-side probe: ± " in sentence


def test_limits_that_were_not_judged_and_credit_that_was_not_earned_are_said(course: Course) -> None:
    """Whoever reads the report must not take them for kept."""
    [stood] = course.stood_in
    worse = StoodIn(stood.probe, 60.0, 120.0, [(60.0, 100.0, 12.0)], earned=False, unguarded={"25 °C in 15 min"})
    changed = Course(**{name: getattr(course, name) for name in Course.__slots__} | {"stood_in": (worse,)})
    *_, section = probes_sections(changed, Scale())
    assert section.sentences == (
        "From 0:01 for 1 min by the gas-side probe: ± 12.0 °C at worst, a soak earned nothing by it, "
        "at least for a time; not judged meanwhile: 25 °C in 15 min.",
    )


def test_a_report_of_one_probe_has_nothing_of_it(tmp_path: Path) -> None:
    """Neither panels nor sections."""
    course = read_course(write_record(tmp_path / "a.jsonl", GOOD))
    assert (course.probes, course.stood_in, list(probes_sections(course, Scale()))) == ((), (), [])
    assert len(draw_heat(course, Scale()).axes) == 4


def test_on_a_phone_wide_things_scroll_in_themselves_and_the_page_does_not() -> None:
    """A table of six columns and a drawing with small letters."""
    page = html_page("a heat", "", (), Figure(), "", ())
    narrow = page.split("@media screen and (max-width: 620px)")[1].split("</style>")[0]
    assert "table { display: block; overflow-x: auto }" in narrow
    assert "figure { overflow-x: auto }" in narrow
