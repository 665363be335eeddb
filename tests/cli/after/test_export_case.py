"""`rampwarden export --case`: a moment that was said to be wrong becomes a case that replays, with nobody in it."""

import gzip
import json
from collections.abc import Callable
from pathlib import Path

import pytest

import replay_cases
from command_line import CommandLine
from rampwarden.cli.after.impersonal import ImpersonalLines, impersonal_schedule
from rampwarden.core.model import AlarmState, Command, CommandName, Event, Input, Notice, NoticeName, Reading
from rampwarden.core.monitor import Monitor
from rampwarden.records import End, Header, RecordReader, RecordWriter, parameters_of, schedule_of

pytestmark = pytest.mark.long


ROOT = Path(__file__).resolve().parents[3]
RECORDS = ROOT / "tests" / "old_records"
PERSONAL = ("Anna", "anna", "furnace-7", "usb-", "2031", "A3", "bell bronze", "Tuesday", "0badc0de", "sheet 7")

Answer = Callable[[list[Event]], Command | None]


def personal(header: Header) -> Header:
    """Give a header with everything in it that tells whose heat it was."""
    table = dict(header.schedule or {})
    rows = [{**row, "name": f"Anna's {n}", "say": "call Anna"} for n, row in enumerate(table["segment"])]  # type: ignore[arg-type, var-annotated]
    return Header(
        format=header.format,
        started="2031-05-06T07:08:09Z",
        id="0badc0de",
        title="Anna's heat",
        note="Tuesday",
        schedule={**table, "title": "Anna's heat", "basis": "Anna's sheet 7", "segment": rows},
        crucible="A3",
        metal="bell bronze",
        thermocouple="K",
        board={"port": "/dev/serial/by-id/usb-furnace-7"},
        parameters={**header.parameters, "calibration": {"gain": 1.001, "made": "2031-01-01", "made_from": ["Anna"]}},
        boot="0badc0de",
        zero_s=20310.0,
        software=header.software,
    )


def a_record(path: Path, answer: Answer, more: dict[float, Input] | None = None, heat: str = "lid-open") -> list[Event]:
    """Watch a kept heat again into a record; `answer` is asked after every event, `more` is said at its times."""
    to_say = dict(more or {})
    with RecordReader(RECORDS / heat / "heat.jsonl.gz") as reader:
        header = personal(reader.header)
        writer = RecordWriter.create(path, header)
        monitor = Monitor(schedule_of(header, "it"), parameters_of(header, "it"))
        events: list[Event] = []

        def take(item: Input) -> None:
            writer.write(item)
            said = monitor.feed(item)
            writer.write_events(said)
            events.extend(said)
            while said and (word := answer(said)) is not None:
                writer.write(word)
                said = monitor.feed(word)
                writer.write_events(said)
                events.extend(said)

        for line in reader:
            if isinstance(line, Event | Header | End):
                continue
            for time_s in [each for each in to_say if each <= line.time_s]:
                take(to_say.pop(time_s))
            take(line)
        writer.write(End(monitor.time_s or 0.0, "Anna stopped it"))
        writer.close()
    return events


def wrong(said: str, undone: bool = False) -> Answer:
    """Give somebody who says of each message or alarm that has this in its words that it was wrong."""

    def answer(events: list[Event]) -> Command | None:
        last = events[-1]
        if undone and last.withdraws is not None:
            return Command(last.time_s, CommandName.UNDO_WRONG, by="page:furnace-7")
        if said in last.text and last.withdraws is None and last.upholds is None and last.state in _RAISED:
            text = "" if last.alarm else last.text
            return Command(last.time_s, CommandName.WRONG, alarm=last.alarm or "", text=text, by="socket:anna")
        return None

    return answer


_RAISED = (None, AlarmState.UNACKNOWLEDGED)
NOISE: dict[float, Input] = {
    4900.0: Command(4900.0, CommandName.NOTE, text="Anna went for gas", by="socket:anna"),
    5000.0: Command(5000.0, CommandName.MARK, text="Anna's skimming", by="socket:anna"),
    5010.0: Notice(5010.0, NoticeName.BROKER_LOST, text="furnace-7.example: refused"),
    5020.0: Notice(5020.0, NoticeName.BROKER_REACHED, text="furnace-7.example"),
    5430.0: Command(5430.0, CommandName.ACKNOWLEDGE, alarm="Anna", by="socket:anna"),
    5431.0: Command(5431.0, CommandName.WRONG, text="Anna is wrong", by="socket:anna"),
}


def content(folder: Path) -> str:
    """Give everything that stands in the files of a folder, and their names."""
    parts = []
    for file in sorted(folder.rglob("*")):
        if file.is_file():
            data = file.read_bytes()
            parts += [str(file.relative_to(folder)), repr(data[:10]) if file.suffix == ".gz" else ""]
            parts.append((gzip.decompress(data) if file.suffix == ".gz" else data).decode())
    return "\n".join(parts)


def test_a_message_that_was_wrong_becomes_a_case_that_the_replays_accept(
    rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All four ways; with what was said and answered at its own time; and no longer than it need be."""
    events = a_record(Path("heat.jsonl"), wrong("the lid was lifted"), NOISE)
    [said] = [event for event in events if "the lid was lifted" in event.text and event.withdraws is None]
    outcome = rampwarden("export", "heat.jsonl", "--case", "cases")
    assert (outcome.status, outcome.errors) == (0, "")
    assert outcome.output.splitlines()[0].startswith("cases/1-message: a message that was said to be wrong · ")
    assert "send the folder to where you got rampwarden" in outcome.output
    monkeypatch.setattr(replay_cases, "CASES", Path("cases").absolute())
    [name] = replay_cases.case_names()
    header, lines = replay_cases.case_lines(name)
    expected = replay_cases.expected_events(name)
    assert header.note
    assert replay_cases.replay(name, header, lines) == expected
    assert replay_cases.replay_in_steps(name, header, lines) == expected
    assert replay_cases.replay_cut_at_random(name, header, lines, seed=1) == expected
    assert replay_cases.replay_re_recorded(name, header, lines) == expected
    told = [json.loads(line) for line in expected]
    assert [each["time_s"] for each in told if each.get("text") == said.text] == [said.time_s]
    assert [each["withdraws"] for each in told if "withdraws" in each] == [said.time_s]
    times_s = [line.time_s for line in lines if isinstance(line, Reading)]
    assert said.time_s - 1200.0 <= times_s[0] <= said.time_s - 1190.0
    assert times_s[-1] <= said.time_s + 300.0


def test_from_the_moment_on_the_case_tells_what_the_record_told(rampwarden: CommandLine) -> None:
    """To the byte, but for the names of the segments."""
    events = a_record(Path("heat.jsonl"), wrong("ramp-"), NOISE, "fast-ramp")
    answered = [event for event in events if event.withdraws is not None]
    assert answered, "the heat must have something to answer"
    rampwarden("export", "heat.jsonl", "--case", "cases")
    folders = sorted(Path("cases").iterdir())
    assert [folder.name for folder in folders] == [f"{n}-{event.alarm}" for n, event in enumerate(answered, 1)]
    for folder, event in zip(folders, answered, strict=True):
        said_s, until_s = event.withdraws or 0.0, event.time_s + 300.0
        told = [json.loads(line) for line in (folder / "expected.events.jsonl").read_text().splitlines()]
        kept = [(each["time_s"], each.get("alarm"), each.get("state")) for each in told if each["time_s"] >= said_s]
        there = [
            (each.time_s, each.alarm, each.state)
            for each in events
            if said_s <= each.time_s <= until_s and each.event not in ("note", "mark", "command-refused")
        ]
        assert kept == there


def test_nothing_in_a_case_tells_whose_heat_it_was(rampwarden: CommandLine) -> None:
    """Neither in its files nor in their names: no person, pot, metal, port, host, date, note or reason."""
    a_record(Path("heat.jsonl"), wrong("the lid"), NOISE)
    assert all(word in Path("heat.jsonl").read_text() for word in PERSONAL)
    rampwarden("export", "heat.jsonl", "--case", "cases")
    written = content(Path("cases"))
    cases = list(Path("cases").iterdir())
    assert cases
    assert written.count("[[segment]]") == 7 * len(cases)
    assert [word for word in PERSONAL if word in written] == []
    packed = next(Path("cases").rglob("*.gz")).read_bytes()
    assert packed[3] == 0, "a name within the packed file"
    assert packed[4:8] == b"\0\0\0\0", "a time of day within the packed file"


def test_what_is_measured_by_stays_in_it(rampwarden: CommandLine) -> None:
    """Without its calibration the readings would be others."""
    a_record(Path("heat.jsonl"), wrong("the lid was lifted"))
    rampwarden("export", "heat.jsonl", "--case", "cases")
    with RecordReader(Path("cases/1-message/heat.jsonl.gz")) as reader:
        assert set(reader.header.parameters) == {"signal_lost_s", "calibration"}
        assert parameters_of(reader.header, "it").calibration.gain == 1.001
        assert reader.header.started == "2000-01-01T00:00:00Z"
    outcome = rampwarden("replay", "cases/1-message/heat.jsonl.gz")
    assert "said to be wrong, withdrawn: " in outcome.output


def test_an_answer_that_was_taken_back_makes_no_case(rampwarden: CommandLine) -> None:
    """It was right after all."""
    a_record(Path("heat.jsonl"), wrong("the lid was lifted", undone=True))
    outcome = rampwarden("export", "heat.jsonl", "--case", "cases")
    assert outcome.status == 2
    assert not Path("cases").exists()


def test_any_other_moment_is_named_by_its_time(rampwarden: CommandLine) -> None:
    """What was missed, say: nobody can answer what was never said."""
    a_record(Path("heat.jsonl"), lambda _events: None)
    outcome = rampwarden("export", "heat.jsonl", "--case", "cases", "--at", "1:30:00")
    assert outcome.output.startswith("cases/1-moment: a moment that somebody wants looked at · ")
    with RecordReader(Path("cases/1-moment/heat.jsonl.gz")) as reader:
        times_s = [line.time_s for line in reader if isinstance(line, Reading)]
    assert (times_s[0], times_s[-1]) == (4200.0, 5700.0)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        ((), "nothing was said to be wrong in this heat; --at H:MM:SS makes a case of any other moment"),
        (("--at", "90 min"), "--at '90 min': a moment of the heat is H:MM:SS"),
        (("--at", "99:00:00"), "not until 99:00:00"),
        (("--output", "x.csv"), "--output is for CSV"),
    ],
)
def test_what_cannot_be_made_is_refused_in_one_line(
    rampwarden: CommandLine, arguments: tuple[str, ...], why: str
) -> None:
    """And nothing is left behind."""
    a_record(Path("heat.jsonl"), lambda _events: None)
    outcome = rampwarden("export", "heat.jsonl", "--case", "cases", *arguments)
    assert (outcome.status, outcome.output) == (2, "")
    assert why in outcome.errors
    assert not Path("cases").exists()


def test_a_folder_that_is_there_is_left_alone(rampwarden: CommandLine) -> None:
    """Somebody's case may be in it."""
    a_record(Path("heat.jsonl"), wrong("the lid was lifted"))
    Path("cases").mkdir()
    outcome = rampwarden("export", "heat.jsonl", "--case", "cases")
    assert (outcome.status, list(Path("cases").iterdir())) == (2, [])
    assert "cases: is there already; choose another name" in outcome.errors


def test_an_answer_to_what_this_version_no_longer_says_is_told_as_such(rampwarden: CommandLine) -> None:
    """Nothing is left to be sent in."""
    a_record(Path("heat.jsonl"), lambda _events: None, {600.0: Command(600.0, CommandName.WRONG, alarm="flame-out")})
    outcome = rampwarden("export", "heat.jsonl", "--case", "cases")
    assert "1 times something was said to be wrong, but of nothing that this version still says" in outcome.errors


def test_a_replay_heeds_an_answer_as_the_watch_did(rampwarden: CommandLine) -> None:
    """Withdrawn, taken back, and all that follows: to the byte."""
    for answer in (wrong("ramp-"), wrong("ramp-", undone=True)):
        Path("heat.jsonl").unlink(missing_ok=True)
        a_record(Path("heat.jsonl"), answer, NOISE, "fast-ramp")
        told = rampwarden("replay", "heat.jsonl", "--json").output.splitlines()
        lines = [json.loads(line) for line in Path("heat.jsonl").read_text().splitlines()]
        numbering = ("seq", "run")
        events = [each for each in lines if each["kind"] == "event"]
        recorded = [{key: each[key] for key in each if key not in numbering} for each in events]
        assert any("withdraws" in each for each in recorded)
        assert [json.loads(line) for line in told] == recorded


def test_what_a_schedule_asks_and_what_was_answered_loses_its_words() -> None:
    """When it asks and which usual marks it offers stays: a mark may explain what followed."""
    ask = [{"after": "20 min", "question": "Anna?", "answers": ["mist gone", "Anna"]}]
    table = {"segment": [{"name": "Anna's oven", "kind": "ramp", "to": "200 C", "ask": ask}]}
    assert impersonal_schedule(table, "t")["segment"] == [
        {
            "name": "ramp 1",
            "kind": "ramp",
            "to": "200 C",
            "ask": [{"after": "20 min", "question": "question 1", "answers": ["mist gone", "answer 2"]}],
        }
    ]
    assert impersonal_schedule({**table, "checklist": ["Anna's tongs"]}, "t")["checklist"] == ["line 1"]
    lines = ImpersonalLines(table)
    for said, kept in (
        ("Anna", "answered"),
        ("mist gone", "mist gone"),
        ("watched by Anna", "answered"),
        ('go on with "Anna\'s oven"', "go on with 'ramp 1'"),
        ("leave the schedule as it is", "leave the schedule as it is"),
    ):
        answer = lines.take(Command(1.0, CommandName.ANSWER, text=said, by="socket:anna", question=2))
        assert answer == Command(1.0, CommandName.ANSWER, text=kept, question=2)
