"""What twenty open pages cost the watch: processor time of a rehearsal at its own pace, without and with them.

Each page is a line that reads the stream as a browser does. Prints the share of one core over the same span, and how
late a reading is at the pages. Run by `make bench-page`.
"""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

_PAGES = 20
_SPAN_S = 20.0
_BEGIN_S = 3.0
_SCHEDULE = Path(__file__).resolve().parents[2] / "config" / "schedules" / "bronze-first-heat.toml"
_PROGRAM = [sys.executable, "-c", "from rampwarden.cli import run; run()"]
_TICKS = os.sysconf("SC_CLK_TCK")


def main() -> int:
    """Measure and print; exit status 1 when the pages take the watch above a tenth of a core."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Path(folder) / "page.toml"
        settings.write_text('[page]\nenabled = true\naddress = "127.0.0.1:0"\n', encoding="utf-8")
        alone = _measure(Path(folder), [], 0)[0]
        served, late_s = _measure(Path(folder), ["--config", str(settings)], _PAGES)
    print(f"watch alone                 {100 * alone:5.1f} % of a core")
    print(f"watch with {_PAGES} open pages    {100 * served:5.1f} % of a core")
    print(f"a picture reaches a page    {1000 * late_s:5.0f} ms after the watch has told it, at the worst")
    return 0 if served < 0.10 else 1


def _measure(folder: Path, options: list[str], pages: int) -> tuple[float, float]:
    """Give the share of a core that a rehearsal takes, and the longest delay of a message, s."""
    log = folder / f"log-{pages}"
    record = folder / f"heat-{pages}.jsonl"
    command = [*_PROGRAM, "rehearse", str(_SCHEDULE), "--speed", "1", "--record", str(record), *options]
    clean = {name: value for name, value in os.environ.items() if not name.startswith("RAMPWARDEN_")}
    with log.open("wb") as output:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env={**clean, "RUNTIME_DIRECTORY": str(folder)},
        )
    readers = []
    try:
        time.sleep(_BEGIN_S)
        if pages:
            port = int(log.read_text().split("the page is served at http://127.0.0.1:")[1].split('"')[0])
            readers = [_Reader(port) for _ in range(pages)]
            time.sleep(1.0)
        heard = [reader.messages for reader in readers]
        began, began_s = _processor_s(process.pid), time.monotonic()
        time.sleep(_SPAN_S)
        share = (_processor_s(process.pid) - began) / (time.monotonic() - began_s)
        for reader, before in zip(readers, heard, strict=True):
            if reader.messages - before < _SPAN_S / 2:
                raise SystemExit(f"a page heard {reader.messages - before} messages in {_SPAN_S:.0f} s")
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(10.0)
        for reader in readers:
            reader.join()
    return share, max((reader.latest_s for reader in readers), default=0.0)


def _processor_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


class _Reader(threading.Thread):
    """One open page."""

    def __init__(self, port: int) -> None:
        super().__init__(daemon=True)
        self.latest_s = 0.0
        self.messages = 0
        self._line = socket.create_connection(("127.0.0.1", port))
        self._line.sendall(f"GET /stream HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n\r\n".encode())
        self.start()

    def run(self) -> None:
        """Read until the watch ends."""
        with contextlib.suppress(OSError), self._line, self._line.makefile("rb") as stream:
            for line in stream:
                if line.startswith(b"data: {"):
                    self.messages += 1
                    told_s = float(json.loads(line.removeprefix(b"data: "))["told_s"])
                    self.latest_s = max(self.latest_s, time.monotonic() - told_s)


if __name__ == "__main__":
    sys.exit(main())
