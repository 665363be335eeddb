"""The guides are true: every command in them is run and prints what is shown, every link leads somewhere."""

import shlex
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
import typer

from guide_workshop import GUIDES_SERVER, Workshop, has_broker
from guides import GUIDES, ROOT, Shown, agrees, blocks, broken_links, commands
from rampwarden.cli.application import application
from rampwarden.core.model import Notice, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.display.layout import Surroundings, lay_out
from rampwarden.display.terminal_style import Looks
from rampwarden.picture.keeper import PictureKeeper, about_heat
from rampwarden.picture.picture import Mode
from rampwarden.records import RecordReader, Replay, parameters_of, schedule_of

# What begins so cannot be run by a test, for these reasons. The `rampwarden` in it is still held to its options.
NOT_RUN = {
    "sudo ": "changes this computer: packages, services, users",
    "python3 -m venv": "takes longer than all the rest, and needs the package registry",
    "~/rampwarden-env/bin/pip install": "needs the package registry",
    "pip install": "needs the package registry",
    "createdb": "needs a server; tests/cli/crucibles/test_shop_register.py has one",
    "rampwarden crucible move --to postgresql": "needs a server; tests/cli/crucibles/test_shop_register.py has one",
    "rampwarden rehearse --config furnace-": "is the same again for another furnace: one heat is enough for a test",
    "rampwarden heats compare $ids": "needs the heats that are not rehearsed here; tests/cli/after/test_heats.py has",
    "rampwarden replay --all": "needs heats of a season; tests/cli/after/test_replay_all.py has some",
    "journalctl": "needs a system with a journal",
    "mosquitto_": "comes with packages that nothing else here needs",
    "rampwarden board --walk": "asks a person at every step; has its own test",
}
LONGEST_README = 170


def shown_in(guide: str) -> list[Shown]:
    """Give every command of a guide."""
    return [shown for block in blocks(guide) for shown in commands(block)]


def reason_not_to_run(shown: Shown) -> str | None:
    """Give why a command is not run, or None when it is."""
    return next((reason for start, reason in NOT_RUN.items() if shown.command.startswith(start)), None)


@pytest.mark.timeout(400)  # two dozen commands, each a process of its own: on a busy machine that adds up
@pytest.mark.long
@pytest.mark.parametrize("guide", GUIDES)
def test_every_command_of_a_guide_is_run_and_prints_what_is_shown(guide: str, request: pytest.FixtureRequest) -> None:
    """In the order of the guide, in one workshop; whatever differs is told with what was printed instead."""
    text = (ROOT / guide).read_text(encoding="utf-8")
    server = request.getfixturevalue("shop_url") if GUIDES_SERVER in text else ""
    if not has_broker() and "localhost" in text:
        pytest.skip("no mosquitto on this computer: see .ci/need-packages")
    wrong = []
    # A short name: a socket's path has at most a hundred letters.
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        workshop = Workshop(Path(folder), server)
        try:
            for block in blocks(guide):
                if "file" in block.marks:
                    workshop.write(block)
                for shown in commands(block):
                    if reason_not_to_run(shown) is None and "screen" not in block.marks:
                        wrong.append(workshop.run(shown))
        finally:
            workshop.close()
    assert not any(wrong), "\n\n".join(what for what in wrong if what)


@pytest.mark.parametrize("guide", GUIDES)
def test_every_command_has_the_options_it_is_shown_with(guide: str) -> None:
    """Above all those that are not run."""
    for shown in shown_in(guide):
        words = shlex.split(shown.command, comments=True)
        if words[:2] == ["sudo", "-u"]:
            words = words[3:]
        if words[0] == "sudo":
            words = words[1:]
        if words[0] == "rampwarden":
            parse(words[1:], shown.place)


def test_what_is_not_run_is_still_shown_somewhere() -> None:
    """Else an exemption outlives the command it was made for."""
    all_shown = [shown.command for guide in GUIDES for shown in shown_in(guide)]
    assert [start for start in NOT_RUN if not any(command.startswith(start) for command in all_shown)] == []


@pytest.mark.parametrize("guide", GUIDES)
def test_a_screen_that_is_shown_is_what_the_display_draws(guide: str, tmp_path: Path) -> None:
    """The same rehearsal without a terminal; its record up to that second, drawn as on a terminal of that size."""
    for block in blocks(guide):
        if "screen" not in block.marks:
            continue
        (shown,) = commands(block)
        assert shown.printed is not None
        size, at = block.marks["screen"].split(" at ")
        width, height = size.split("x")
        pace = float(shown.command.partition("--speed ")[2].split()[0])
        workshop = Workshop(tmp_path / "workshop")
        record = workshop.files / "heat.jsonl"
        rehearsed = Shown(shown.place, f"{shown.command} --plain --record {record.name}", None, ())
        try:
            assert workshop.run(rehearsed) is None
        finally:
            workshop.close()
        screen = drawn(record, seconds(at), int(width), int(height), pace)
        assert agrees(shown.printed, screen), f"{shown.place} shows another screen than\n{screen}"


@pytest.mark.parametrize("guide", GUIDES)
def test_every_link_leads_somewhere(guide: str) -> None:
    """To a file that is there, and to a heading of it."""
    assert broken_links(guide) == []


def test_the_readme_is_short_and_opens_with_the_job() -> None:
    """Job, caution and two commands stand on the first screenful."""
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= LONGEST_README
    assert lines[0] == "# rampwarden"
    assert lines[2].startswith("Somebody who melts metal")
    top = lines[:40]
    assert [each for each in ("make demo", "make test") if not any(each in line for line in top)] == []


def test_the_comparison_bites() -> None:
    """What is cut may be anything; what varies may have other digits; the rest is exact."""
    assert agrees(("a 12 ms …", "…", "end"), "a 12 ms or so\nx\ny\nend\n")
    assert agrees(("took 44 ms",), "took 7 ms\n", ("44 ms",))
    assert not agrees(("took 44 ms",), "took 7 ms\n")
    assert not agrees(("took 44 ms",), "took 7 s\n", ("44 ms",))
    assert not agrees(("one",), "one\ntwo\n")
    assert not agrees(("one", "two"), "one\n")


def test_commands_are_found_in_sessions_and_lists() -> None:
    """Continued lines are joined; comments and other blocks have none."""
    text = "```console\n$ a \\\n    b\nout\n$ c\n```\n```sh\nd  # why\n# no\n```\n```toml\n$ e\n```\n"
    found = [(each.command, each.printed) for block in blocks("x.md", text) for each in commands(block)]
    assert found == [("a b", ("out",)), ("c", ()), ("d  # why", None)]


def parse(arguments: list[str], place: str) -> None:
    """Parse a command line as the program does, and stop there; an unknown command or option fails."""
    if arguments == ["--help"]:
        return
    command = typer.main.get_command(application(arguments))
    rest = arguments
    while isinstance(command, typer.core.TyperGroup):
        found = command.get_command(typer.Context(command), rest[0]) if rest else None
        assert found is not None, f"{place}: there is no command {rest[:1]}"
        command, rest = found, rest[1:]
    try:
        command.make_context(command.name, rest)
    except Exception as error:
        pytest.fail(f"{place}: {error}")


def seconds(clock: str) -> float:
    """Give the seconds of a heat's clock, h:mm:ss."""
    hours, minutes, rest = map(int, clock.split(":"))
    return 3600.0 * hours + 60.0 * minutes + rest


def drawn(path: Path, until_s: float, width: int, height: int, pace: float) -> str:
    """Give the screen that a rehearsal's display draws at a moment, without log and keys."""
    with RecordReader(path) as reader:
        schedule = schedule_of(reader.header, str(path))
        run = Replay(Monitor(schedule, parameters_of(reader.header, "the record")))
        keeper = PictureKeeper(schedule, about_heat(schedule, Mode.REHEARSAL, reader.header.started), pace=pace)
        for line in reader:
            if getattr(line, "time_s", 0.0) > until_s:
                break
            for event in run.take(line):
                keeper.tell(event)
            if isinstance(line, Reading | Notice):
                keeper.follow(line, run.monitor.measurement, run.monitor.edges())
    run.monitor.advance(until_s)
    keeper.show(run.monitor.status())
    picture = keeper.picture()
    looks = Looks()
    around = Surroundings(picture.shown_at_s, datetime(2026, 1, 1, tzinfo=UTC), (), looks.text(""))
    return "\n".join(line.plain.rstrip() for line in lay_out(picture, around, width, height, looks))
