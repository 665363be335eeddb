"""Every mistake a person can make is one line on standard error, exit status 2, and never a traceback."""

import ast
import gzip
import os
import re
import subprocess
from pathlib import Path

import pytest

from command_line import PROGRAM, SCHEDULE, CommandLine, environment, run_process
from rampwarden import cli

HEADER = '{"kind":"header","format":"rampwarden-heat/1","started":"2026-01-01T09:00:00Z"}\n'


@pytest.fixture
def heat(tmp_path: Path) -> Path:
    """Give a schedule that is in order."""
    path = tmp_path / "heat.toml"
    path.write_text(SCHEDULE, encoding="utf-8")
    return path


# Usage


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["wacth"], "No such command 'wacth'."),
        (["watch", "--prot", "x"], "No such option: --prot"),
        (["replay"], "Invalid value: no record; name one, or a folder of them with --all"),
        (["schedule", "chekc"], "No such command 'chekc'."),
    ],
)
def test_wrong_usage_is_told_with_where_to_look(arguments: list[str], line: str, rampwarden: CommandLine) -> None:
    """Unknown command, unknown option, missing argument."""
    told = rampwarden.refusal(*arguments)
    assert told.startswith(line)
    assert told.endswith(" (see rampwarden --help)")


@pytest.mark.parametrize("value", ["0.5", "20000", "nan", "fast"])
def test_a_speed_no_rehearsal_can_have_is_refused(value: str, heat: Path, rampwarden: CommandLine) -> None:
    """By the option's name."""
    assert "'--speed'" in rampwarden.refusal("rehearse", heat, "--speed", value)


def test_an_unknown_fault_is_refused_with_the_known_ones(heat: Path, rampwarden: CommandLine) -> None:
    """All of them, since there are few."""
    told = rampwarden.refusal("rehearse", heat, "--fault", "fire")
    assert "'fire'" in told
    assert "fast-ramp" in told
    assert "overshoot" in told


def test_without_a_command_the_help_is_shown(rampwarden: CommandLine) -> None:
    """And nothing else said."""
    outcome = rampwarden()
    assert outcome.status == 2
    assert "Usage: rampwarden" in outcome.output + outcome.errors
    assert "rampwarden: " not in outcome.errors


def test_help_and_version_are_no_mistakes(rampwarden: CommandLine) -> None:
    """Exit status 0; the short form of help too."""
    for arguments in (["--help"], ["-h"], ["watch", "-h"], ["--version"]):
        assert rampwarden(*arguments).status == 0
    assert rampwarden("--version").output.startswith("rampwarden 0.")


# Schedules and settings


def test_a_watch_without_schedule_or_port_says_how_to_give_them(heat: Path, rampwarden: CommandLine) -> None:
    """The key and the flag."""
    assert rampwarden.refusal("watch") == (
        "watch.schedule: no schedule to watch; name one, as in: rampwarden watch SCHEDULE"
    )
    assert rampwarden.refusal("watch", heat) == (
        "board.port: no port to read; give --port, or port in the [board] section"
    )


@pytest.mark.parametrize("command", [["watch", "--port", "/dev/null"], ["rehearse"]])
def test_a_schedule_that_cannot_be_found_or_read_is_told(command: list[str], rampwarden: CommandLine) -> None:
    """By name, by path, too long a name, a folder."""
    told = rampwarden.refusal(*command, "no-such-heat")
    assert told.startswith("no schedule 'no-such-heat': give a file, or one of these names: ")
    assert rampwarden.refusal(*command, "no.toml") == "no.toml: cannot read the schedule: No such file or directory"
    assert rampwarden.refusal(*command, "x" * 300).endswith("cannot look for the schedule: File name too long")
    assert rampwarden.refusal(*command, "./.") == ".: cannot read the schedule: Is a directory"


@pytest.mark.parametrize("command", [["watch", "--port", "/dev/null"], ["rehearse"]])
def test_a_schedule_with_a_fault_is_told_with_file_segment_key_and_remedy(
    command: list[str], heat: Path, rampwarden: CommandLine
) -> None:
    """And no record is made."""
    heat.write_text(SCHEDULE.replace("max_rate", "max_rat", 1), encoding="utf-8")
    assert rampwarden.refusal(*command, heat) == (
        f"{heat}: segment 1 'drying': unknown key 'max_rat'; did you mean max_rate?"
    )
    assert not list(Path().glob("**/*.jsonl"))


def test_each_fault_of_a_schedule_has_its_line(heat: Path, rampwarden: CommandLine) -> None:
    """Three mistakes are told at once, each on a line of its own."""
    heat.write_text(SCHEDULE.replace("max_rate", "max_rat"), encoding="utf-8")
    outcome = rampwarden("rehearse", heat)
    assert outcome.status == 2
    lines = outcome.errors.splitlines()
    assert len(lines) == SCHEDULE.count("max_rate")
    assert all(line.startswith(f"rampwarden: {heat}: segment ") for line in lines)


def test_a_fault_that_has_no_place_in_the_schedule_is_told(heat: Path, rampwarden: CommandLine) -> None:
    """What it would need, and what to do."""
    heat.write_text(SCHEDULE.replace('min_rate = "10 C / 5 min"\n', ""), encoding="utf-8")
    assert rampwarden.refusal("rehearse", heat, "--fault", "slow-red-heat") == (
        "slow-red-heat needs a ramp with a min_rate; this schedule has none, rehearse another or without the fault"
    )


@pytest.mark.parametrize("command", [["watch", "heat.toml", "--port", "x"], ["rehearse", "heat.toml"], ["settings"]])
def test_a_wrong_setting_is_told_by_every_command_that_reads_settings(
    command: list[str], heat: Path, rampwarden: CommandLine
) -> None:
    """With file, key and the nearest one."""
    Path("s.toml").write_text("[signal]\nlost_afer = 3\n")
    assert rampwarden.refusal(*command, "--config", "s.toml") == (
        "s.toml: unknown key signal.lost_afer; did you mean lost_after?"
    )
    assert rampwarden.refusal(*command, "--config", "no.toml") == (
        "no.toml: cannot read the settings: No such file or directory"
    )


def test_settings_are_found_through_the_environment(rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    """RAMPWARDEN_CONFIG names the file where no flag does."""
    Path("s.toml").write_text("[board]\nbaud = 12\n")
    monkeypatch.setenv("RAMPWARDEN_CONFIG", "s.toml")
    assert rampwarden.refusal("settings") == "s.toml: board.baud = 12: input should be greater than or equal to 300"


def test_a_wrong_variable_is_told(rampwarden: CommandLine, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also one that is no setting at all."""
    monkeypatch.setenv("RAMPWARDEN_BORD__PORT", "x")
    assert rampwarden.refusal("settings") == (
        "environment: unknown variable RAMPWARDEN_BORD__PORT; did you mean RAMPWARDEN_BOARD__PORT?"
    )


def test_columns_that_make_no_sense_are_told_before_the_heat(heat: Path, rampwarden: CommandLine) -> None:
    """As settings are."""
    Path("s.toml").write_text("[board]\nformat = 'columns'\ncolumns = ['adc']\n")
    told = rampwarden.refusal("watch", heat, "--port", "x", "--config", "s.toml")
    assert told.startswith("board columns [adc]: needs 'junction_c'")


@pytest.mark.parametrize(
    ("device", "why"),
    [("no/such", "No such file or directory"), ("plain", "it is no terminal; give one such as /dev/tty1")],
)
def test_a_bell_that_cannot_ring_is_told_before_the_heat(
    device: str, why: str, heat: Path, rampwarden: CommandLine
) -> None:
    """No record is made, and a file that is no terminal is not written into."""
    Path("plain").write_text("precious")
    Path("s.toml").write_text(f"[bell]\ndevice = '{device}'\n")
    told = rampwarden.refusal("watch", heat, "--port", "x", "--config", "s.toml")
    assert told == f"bell.device = '{device}': cannot ring there: {why}"
    assert Path("plain").read_text() == "precious"
    assert not list(Path().glob("**/*.jsonl"))


# Records


def test_a_record_that_exists_is_never_overwritten(heat: Path, rampwarden: CommandLine) -> None:
    """Neither by a watch nor by a rehearsal."""
    Path("old.jsonl").write_text("precious")
    for command in (["watch", "--port", "x"], ["rehearse"]):
        assert rampwarden.refusal(*command, heat, "--record", "old.jsonl") == (
            "old.jsonl: is there already; a record is never overwritten, choose another name"
        )
    assert Path("old.jsonl").read_text() == "precious"


def test_a_folder_for_records_that_cannot_be_made_is_told(heat: Path, rampwarden: CommandLine) -> None:
    """Here because its name belongs to a file."""
    Path("heats").write_text("")
    told = rampwarden.refusal("rehearse", heat)
    assert told.startswith("heats/")
    assert told.endswith("-heat.jsonl: cannot make the heat record: heats: is a file, not a folder")


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is forbidden to root")
def test_a_folder_that_may_not_be_written_is_told(heat: Path, rampwarden: CommandLine) -> None:
    """With the system's reason."""
    Path("heats").mkdir(mode=0o500)
    assert rampwarden.refusal("watch", heat, "--port", "x").endswith("cannot make the heat record: Permission denied")


@pytest.mark.root
def test_a_heat_on_a_read_only_disk_is_watched_and_its_record_kept_elsewhere(heat: Path, tmp_path: Path) -> None:
    """The same for root, to whom only the disk itself can say no: nobody is left unwatched for that."""
    from small_disk import may_mount, small_disk

    if not may_mount():
        pytest.skip("mounting a small disk needs root")
    with small_disk(tmp_path / "disk") as disk:
        subprocess.run(["mount", "-o", "remount,ro", str(disk.folder)], check=True)
        process = subprocess.Popen(
            [*PROGRAM, "watch", str(heat), "--port", "x", "--record", str(disk.folder / "heat.jsonl"), "--plain"],
            cwd=tmp_path,
            env=environment(tmp_path),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert process.stdout is not None
        said = next((line for line in process.stdout if "record-failing" in line), "")
        process.terminate()
        process.communicate(timeout=60)
    assert "Read-only file system" in said


NO_HEADER = "no heat record: its first line is no header of format rampwarden-heat/1"


@pytest.mark.parametrize("command", ["replay", "export"])
@pytest.mark.parametrize(
    ("content", "why"),
    [
        (None, "cannot read: No such file or directory"),
        (b"", NO_HEADER),
        (b"\x00" * 1000, NO_HEADER),
        (
            HEADER.replace("heat/1", "heat/9").encode(),
            "format 'rampwarden-heat/9'; this version reads rampwarden-heat/1",
        ),
        (
            gzip.compress(HEADER.encode())[:14],
            "cannot read: Compressed file ended before the end-of-stream marker was reached",
        ),
        (
            HEADER.replace("}", ',"thermocouple":"Q"}').encode(),
            "the header's parameters cannot be used: "
            "thermocouple type 'Q' is unknown; use one of B, E, J, K, N, R, S, T",
        ),
    ],
    ids=["missing", "empty", "nothing but NUL", "another format", "cut off", "unknown type"],
)
def test_an_unreadable_record_is_told(command: str, content: bytes | None, why: str, rampwarden: CommandLine) -> None:
    """By every command that reads one."""
    if content is not None:
        Path("heat.jsonl").write_bytes(content)
    extra = ["--schedule", "x.toml"] if command == "replay" else []
    if extra:
        Path("x.toml").write_text(SCHEDULE)
    assert rampwarden.refusal(command, "heat.jsonl", *extra) == f"heat.jsonl: {why}"


def test_a_record_damaged_further_on_is_told_after_what_came_before(rampwarden: CommandLine) -> None:
    """Its events so far are good; the damage is one line."""
    lines = "".join(f'{{"kind":"clock","time_s":{time_s}}}\n' for time_s in range(20_000))
    packed = bytearray(gzip.compress((HEADER + lines).encode()))
    packed[-6] ^= 0xFF
    Path("heat.jsonl.gz").write_bytes(packed)
    Path("x.toml").write_text(SCHEDULE)
    outcome = rampwarden("replay", "--json", "heat.jsonl.gz", "--schedule", "x.toml")
    assert outcome.status == 2
    assert outcome.output.startswith('{"kind":"event"')
    assert outcome.errors.startswith("rampwarden: heat.jsonl.gz: reading failed: CRC check failed")
    assert outcome.errors.count("\n") == 1


def test_a_record_without_schedule_says_how_to_give_one(rampwarden: CommandLine) -> None:
    """It may come from elsewhere."""
    Path("heat.jsonl").write_text(HEADER)
    assert rampwarden.refusal("replay", "heat.jsonl") == (
        "heat.jsonl: the record carries no schedule; give one with --schedule FILE"
    )


def test_a_csv_that_cannot_be_used_is_told(rampwarden: CommandLine) -> None:
    """No schedule, no such column, no such field, no text, no file."""
    Path("x.toml").write_text(SCHEDULE)
    Path("log.csv").write_bytes(b"ts,temp \xb0C\n0,20\n")
    with_schedule = ["log.csv", "--schedule", "x.toml", "--csv"]
    assert "give one with --schedule FILE" in rampwarden.refusal("replay", "log.csv", "--csv", "time=ts,temp_c=t")
    assert "--csv 'time=ts': needs time and one of" in rampwarden.refusal("replay", *with_schedule, "time=ts")
    outcome = rampwarden("replay", *with_schedule, "time=ts,temp_c=t", "--json")
    assert (outcome.status, outcome.output) == (2, "")
    assert "not a CSV file in UTF-8" in outcome.errors
    Path("log.csv").write_bytes(b"ts,value\n0,20\n")
    assert rampwarden.refusal("replay", "--json", *with_schedule, "time=ts,temp_c=t") == (
        "log.csv: no column 't'; the first line names: ts, value"
    )


def test_an_export_never_overwrites(rampwarden: CommandLine) -> None:
    """As records are not."""
    Path("heat.jsonl").write_text(HEADER)
    Path("out.csv").write_text("precious")
    assert rampwarden.refusal("export", "heat.jsonl", "--output", "out.csv") == (
        "out.csv: is there already; choose another name"
    )
    assert rampwarden.refusal("export", "heat.jsonl", "--output", "no/out.csv") == (
        "no/out.csv: cannot write: No such file or directory"
    )
    assert Path("out.csv").read_text() == "precious"


# Text from files


def test_names_from_files_cannot_steer_the_terminal(rampwarden: CommandLine) -> None:
    """Titles and names are shown with their control characters made visible."""
    Path("x.toml").write_text(SCHEDULE.replace('"drying"', '"dry\\u001b[2J"').replace("A short", "A\\u001b]0;x\\u0007"))
    outcome = rampwarden("schedule", "check", "x.toml")
    assert outcome.status == 0
    Path("x.toml").write_text(SCHEDULE.replace('"drying"\nkind', '"dry\\u001b[2J\\n"\nkin'))
    told = rampwarden("schedule", "check", "x.toml")
    header = HEADER.replace(
        "}", ',"schedule":{"title":"\\u001b[2J","segment":[{"name":"a","kind":"ramp","to":"9 C"}]}}'
    )
    Path("heat.jsonl").write_text(header + '{"kind":"command","time_s":1,"command":"note","text":"\\u001b[2J"}\n')
    replayed = rampwarden("replay", "heat.jsonl")
    missing = rampwarden("replay", "no\x1b[2J.jsonl")
    for text in (outcome.output, told.errors, replayed.output, missing.errors):
        assert "[2J" in text
        assert text.replace("\n", "").isprintable()


# The process and its streams


def test_output_that_nobody_reads_to_the_end_is_no_mistake(tmp_path: Path, heat: Path) -> None:
    """`rampwarden replay --json … | head -1` says nothing on standard error and ends at once."""
    lines = "".join(f'{{"kind":"command","time_s":{time_s},"command":"note","text":"x"}}\n' for time_s in range(20_000))
    (tmp_path / "heat.jsonl").write_text(HEADER + lines)
    for arguments in (["replay", "--json"], ["replay"]):
        command = [*PROGRAM, *arguments, "heat.jsonl", "--schedule", "heat.toml"]
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path, env=environment(tmp_path)
        ) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            process.stdout.readline()
            process.stdout.close()
            assert process.stderr.read() == b""
            assert process.wait(timeout=30) == 0


def test_output_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """A full disk behind a redirection: the user would find half a file otherwise."""
    for command in ("convert 1000 2000", "settings", "schedule list"):
        with Path("/dev/full").open("wb") as full:
            done = subprocess.run(
                [*PROGRAM, *command.split()],
                check=False,
                stdout=full,
                stderr=subprocess.PIPE,
                cwd=Path(__file__).parents[2],
                env=environment(tmp_path),
            )
        assert (done.returncode, done.stderr) == (2, b"rampwarden: standard output: No space left on device\n")


def test_closed_streams_are_no_traceback(tmp_path: Path) -> None:
    """Some ways of starting a process leave it without standard streams."""
    for closing, status in (("<&-", 0), (">&-", 0), ("2>&-", 2), ("<&- >&- 2>&-", 2)):
        arguments = "convert 1000" if status == 0 else "convert abc"
        script = f'exec "$0" -c "$1" {arguments} {closing}'
        done = subprocess.run(
            ["sh", "-c", script, PROGRAM[0], PROGRAM[2]],
            check=False,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            env=environment(tmp_path),
        )
        assert (done.returncode, done.stderr) == (status, b""), closing


def test_bytes_on_standard_input_that_are_no_text_are_told(tmp_path: Path) -> None:
    """Whichever way Python was told to decode them."""
    outcome = run_process(tmp_path, "convert", stdin=b"1000\n\xff\xfe\n")
    assert outcome.status == 2
    assert outcome.errors.startswith("rampwarden: ")
    assert outcome.errors.count("\n") == 1


def test_no_help_has_a_word_in_brackets_that_would_be_taken_for_a_style() -> None:
    """`[mqtt]` in a help's text is not printed: it reads like the name of a colour."""
    swallowed = [
        f"{file.name}: {text}"
        for file in sorted(Path(cli.__file__).parent.rglob("*.py"))
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.keyword) and node.arg == "help"
        for text in [each.value for each in ast.walk(node.value) if isinstance(each, ast.Constant)]
        if isinstance(text, str) and re.search(r"\[[a-z#/@]", text)
    ]
    assert swallowed == []
