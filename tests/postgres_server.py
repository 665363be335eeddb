"""A real PostgreSQL server for tests, on loopback, with a database for each that wants one. Not a test itself.

Making a server's files takes a second and a half, so it is done once a test session, whichever worker needs it first;
the last one ends it. A server that a test may kill or freeze starts from a copy of those files.
"""

import contextlib
import fcntl
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import psycopg
from tests.outputs.mqtt.broker import free_port, wait_until

_FOUND = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda path: int(path.parts[4]))
POSTGRES = _FOUND[-1] if _FOUND else None
_SUPERUSER = "shop"
# A test's server may lose everything with this machine.
_SETTINGS = (
    "fsync=off",
    "full_page_writes=off",
    "max_connections=40",
    "shared_buffers=16MB",
    "listen_addresses=127.0.0.1",
    "unix_socket_directories=",
)


def _account() -> dict[str, object]:
    """Give as whom a server runs: it refuses to be root."""
    if os.geteuid() != 0:
        return {}
    other = pwd.getpwnam("postgres")
    return {"user": other.pw_uid, "group": other.pw_gid, "extra_groups": []}


def make_files(folder: Path) -> Path:
    """Make a server's files in a folder of its own."""
    if POSTGRES is None:
        raise RuntimeError("there is no PostgreSQL")
    files = folder / "files"
    files.mkdir()
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
        shutil.chown(files, "postgres")
    initdb = [POSTGRES.with_name("initdb"), "-D", files, "-U", _SUPERUSER, "-A", "trust", "-E", "UTF8"]
    subprocess.run([*initdb, "--locale=C.UTF-8", "-N"], check=True, capture_output=True, cwd=folder, **_account())  # type: ignore[call-overload]
    return files


class PostgresServer:
    """A server over its own files; ends with `kill` at the latest."""

    def __init__(self, files: Path, port: int | None = None) -> None:
        self.files = files
        self.port = port or free_port()

    def url(self, database: str = "postgres") -> str:
        """Give where a database is."""
        return f"postgresql://{_SUPERUSER}@127.0.0.1:{self.port}/{database}"

    def start(self) -> None:
        """Start it, and wait until it answers."""
        settings = " ".join(f"-c {setting}" for setting in _SETTINGS)
        # A process of nobody's: whichever worker of the tests goes last ends it.
        self._control("start", "-w", "-t", "60", "-l", f"{self.files}.log", "-o", f"{settings} -p {self.port}")

    def answers(self) -> bool:
        """Tell whether it takes connections."""
        with contextlib.suppress(psycopg.Error), psycopg.connect(self.url(), connect_timeout=2):
            return True
        return False

    def end(self) -> None:
        """End it in order, as far as it need not be asked twice."""
        self._control("stop", "-w", "-t", "60", "-m", "immediate")

    def kill(self) -> None:
        """End it as a power cut does, with every process it has made; safe to call when it has gone."""
        note = self.files / "postmaster.pid"
        if not note.exists():
            return
        pid = int(note.read_text().split()[0])
        self._signal(signal.SIGKILL)
        wait_until(lambda: _is_dead(pid), "the end of a killed server")
        note.unlink(missing_ok=True)

    def _control(self, *arguments: str) -> None:
        if POSTGRES is None:
            raise RuntimeError("there is no PostgreSQL")
        subprocess.run(
            [POSTGRES.with_name("pg_ctl"), "-D", self.files, "-s", *arguments],
            check=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=self.files,
            **_account(),  # type: ignore[call-overload]
        )

    def freeze(self) -> None:
        """Have it answer nobody, as a server that has run out of everything."""
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Let it go on."""
        self._signal(signal.SIGCONT)

    def _signal(self, number: signal.Signals) -> None:
        pid = (self.files / "postmaster.pid").read_text().split()[0]
        children = subprocess.run(["ps", "-o", "pid=", "--ppid", pid], check=False, capture_output=True, text=True)
        for each in (pid, *children.stdout.split()):
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(each), number)

    def make_database(self) -> str:
        """Make an empty database of its own; gives its URL."""
        name = f"shop_{uuid4().hex}"
        with psycopg.connect(self.url(), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")  # type: ignore[call-overload]
        return self.url(name)


@contextlib.contextmanager
def shared_server(place: Path) -> Iterator[PostgresServer]:
    """Give the one server of a test session; `place` is a folder that all its workers know.

    The first that comes makes and starts it, the last that goes ends it.
    """
    note = place / "postgres"
    with _locked(place):
        if note.exists():
            folder_name, port, users = note.read_text().split()
            server = PostgresServer(Path(folder_name) / "files", int(port))
        else:
            folder_name, users = tempfile.mkdtemp(prefix="rampwarden-postgres-"), "0"
            server = PostgresServer(make_files(Path(folder_name)))
            shutil.copytree(server.files, Path(folder_name) / "fresh")
            server.start()
        note.write_text(f"{folder_name} {server.port} {int(users) + 1}")
    try:
        yield server
    finally:
        with _locked(place):
            left = int(note.read_text().split()[2]) - 1
            note.write_text(f"{folder_name} {server.port} {left}")
            if not left:
                note.unlink()
                server.end()
                shutil.rmtree(folder_name, ignore_errors=True)


def copied_server(shared: PostgresServer, folder: Path) -> PostgresServer:
    """Give a server of one's own, not yet started, over a copy of the fresh files."""
    files = folder / "files"
    shutil.copytree(shared.files.parent / "fresh", files)
    if os.geteuid() == 0:
        for path in (folder, files, *files.rglob("*")):
            shutil.chown(path, "postgres")
    files.chmod(0o700)
    return PostgresServer(files)


@contextlib.contextmanager
def _locked(place: Path) -> Iterator[None]:
    with (place / "postgres-lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _is_dead(pid: int) -> bool:
    with contextlib.suppress(OSError):
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] in "ZX"
    return True
