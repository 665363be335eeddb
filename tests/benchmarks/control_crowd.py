"""How long a watch's control socket lets somebody wait while 1,500 others call.

Three processes make 500 connections each, let go of them and begin again, as fast as they can: silent ones, ones that
send rubbish, and ones that ask. Beside them a fourth asks for the status as the command line does, forty times.
"""

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rampwarden.control.client import ask
from rampwarden.control.messages import FORMAT, STATUS, AboutWatch, Request, encode
from rampwarden.control.places import make_folder
from rampwarden.control.server import ControlServer
from rampwarden.core.model import HeatStatus
from rampwarden.core.monitor import Monitor
from rampwarden.core.schedule import Schedule, Segment, SegmentKind
from rampwarden.errors import ControlError

CALLERS, EACH, ASKED = 3, 500, 40
KINDS = {"silent": b"", "rubbish": b"x" * 1000, "asking": encode(Request(FORMAT, STATUS))}


def call(path: str, kind: str) -> None:
    """Be one of the crowd, for ever."""
    while True:
        lines = []
        for _ in range(EACH):
            line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            lines.append(line)
            try:
                line.connect(path)
                line.sendall(KINDS[kind])
            except OSError:
                pass
        for line in lines:
            line.close()


def wait_s() -> float:
    """Ask as the command line does, and give how long it took."""
    began_s = time.monotonic()
    try:
        ask(os.environ, "furnace-1", Request(FORMAT, STATUS))
    except ControlError as error:
        print(f"not answered: {error}")
    return time.monotonic() - began_s


def status() -> HeatStatus:
    """Give a status to be told."""
    return Monitor(Schedule("T", (Segment("up", SegmentKind.RAMP, to_c=100.0),))).status()


def main() -> None:
    """Serve, let them call, and print what the one who asks has to wait."""
    with tempfile.TemporaryDirectory(prefix="rw") as name:
        os.environ["RUNTIME_DIRECTORY"] = name
        folder = make_folder(os.environ)
        server = ControlServer(Path(folder), AboutWatch("furnace-1", os.getpid(), "", "T", "", "rampwarden 0"))
        server.show(status())
        server.serve(lambda _command: None)
        print(f"one who asks {ASKED} times beside {CALLERS} x {EACH} callers: seconds")
        for kind in KINDS:
            crowd = [subprocess.Popen([sys.executable, __file__, str(server.path), kind]) for _ in range(CALLERS)]
            asker = subprocess.run([sys.executable, __file__, "ask"], capture_output=True, text=True, check=True)
            for each in crowd:
                each.kill()
                each.wait()
            print(f"{kind:>8}  {asker.stdout.strip()}")
        server.close()


if __name__ == "__main__":
    if sys.argv[1:] == ["ask"]:
        time.sleep(1.0)
        waits = sorted(wait_s() for _ in range(ASKED))
        print(
            f"median {statistics.median(waits):.3f}, ninth of ten {waits[int(0.9 * ASKED)]:.3f}, worst {waits[-1]:.3f}"
        )
    elif sys.argv[1:]:
        call(sys.argv[1], sys.argv[2])
    else:
        main()
