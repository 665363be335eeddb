"""Opens, reads and closes a serial port, and says in plain words why that fails.

Owns everything that is peculiar to ports: pyserial, exclusiveness, the modem lines, the many exceptions of an unplugged
cable. Knows nothing of lines or readings. All failures leave here as `PortError`, whose text begins with one of:
absent, no permission, busy, not a serial port, unreachable, gone.
"""

import contextlib
import errno
import fcntl
import grp
import os
import stat
import termios
from pathlib import Path

import serial
from serial.tools import list_ports

from rampwarden.errors import PortError

# One pulled plug raises any of these, depending on which call meets it first: read gives SerialException, in_waiting a
# plain OSError, resetting the input a termios.error (which is no OSError), and a close under way a TypeError.
PORT_FAILURES = (serial.SerialException, OSError, termios.error, TypeError)

# How long a read waits for the first byte: short enough to stop and to mark time by, long enough to cost nothing.
READ_TIMEOUT_S = 0.2

# For a board that is asked: its question is due at a moment, and the wait before it must not make it late.
ASKING_TIMEOUT_S = 0.02

_PARITIES = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}
_BY_ID = Path("/dev/serial/by-id")
_GONE = frozenset({errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF})
_ABSENT = frozenset({errno.ENOENT, errno.ENXIO, errno.ENODEV, errno.ENOTDIR})
_FORBIDDEN = frozenset({errno.EACCES, errno.EPERM})
_BUSY = frozenset({errno.EBUSY, errno.EAGAIN})


def open_port(
    port: str,
    baud: int,
    *,
    dtr: bool = False,
    parity: str = "none",
    stop_bits: int = 1,
    timeout_s: float = READ_TIMEOUT_S,
) -> serial.Serial:
    """Open a port, or any URL that pyserial takes, for this process alone; a read waits for `timeout_s` at most.

    `dtr` is the level of DTR and RTS from the moment of opening. Low spares most boards a second restart (the kernel's
    own pulse at opening cannot be prevented); a board with native USB may speak only while it is high.

    Raises `PortError` with the cause in plain words.
    """
    try:
        line = serial.serial_for_url(port, baudrate=baud, timeout=timeout_s, exclusive=True, do_not_open=True)
        line.parity = _PARITIES[parity]
        line.stopbits = stop_bits
        line.dtr = dtr
        line.rts = dtr
        line.open()
        _claim(line, termios.TIOCEXCL)
    except ValueError as error:
        raise PortError(f"not a serial port: {port} at {baud} baud: {error}") from error
    except PORT_FAILURES as error:
        raise PortError(opening_cause(port, error)) from error
    return line


def read_port(line: serial.Serial, port: str) -> bytes:
    """Give what has come, or wait for the first bytes as long as the port was opened to; empty if none came.

    Never `readline()`: it reads byte by byte and gives half a line at a timeout, which parses as a wrong number.

    Raises `PortError` if the port has gone.
    """
    try:
        return line.read(line.in_waiting or 1)
    except PORT_FAILURES as error:
        raise PortError(f"gone: {port} was unplugged, lost power, or another program reads it too") from error


def write_port(line: serial.Serial, port: str, data: bytes) -> int:
    """Give the port what it takes of `data` at once, without ever waiting; gives how many bytes that were.

    A port behind a URL takes nothing: only of a terminal is it known that it does not make us wait.

    Raises `PortError` if the port has gone.
    """
    descriptor = _terminal(line)
    if descriptor is None:
        return 0
    try:
        return os.write(descriptor, data)  # opened without waiting by pyserial
    except BlockingIOError:
        return 0
    except OSError as error:
        raise PortError(f"gone: {port} was unplugged or lost power") from error


def ask_port(line: serial.Serial, port: str, question: bytes) -> None:
    """Send a whole question, also through a URL. It is short, and the board at the other end waits for nothing else.

    Raises `PortError` if the port has gone, or does not take it.
    """
    if _terminal(line) is not None:
        if write_port(line, port, question) < len(question):
            raise PortError(f"gone: {port} does not take what is sent")
        return
    try:
        line.write(question)
    except PORT_FAILURES as error:
        raise PortError(f"gone: {port} was unplugged or lost power") from error


def bytes_unsent(line: serial.Serial) -> int:
    """Give how many bytes the system still holds for the port; 0 where that cannot be told."""
    if _terminal(line) is None:
        return 0
    try:
        return int(line.out_waiting)
    except PORT_FAILURES:
        return 0


def drop_unsent(line: serial.Serial) -> None:
    """Throw away what the port has not taken yet."""
    with contextlib.suppress(*PORT_FAILURES):  # one that is gone holds nothing
        line.reset_output_buffer()


def close_port(line: serial.Serial) -> None:
    """Close a port that may be gone already."""
    try:
        _claim(line, termios.TIOCNXCL)
        line.close()
    except PORT_FAILURES:
        pass  # nothing is left to close, and nobody left to tell


def _claim(line: serial.Serial, request: int) -> None:
    """Set or drop the terminal's exclusive mode, where the line is a terminal.

    pyserial's own lock keeps out only those who ask for the lock; this keeps out everyone but root. It is dropped at
    closing because it would outlast us where someone else holds the other end open.
    """
    descriptor = _terminal(line)
    if descriptor is not None:
        fcntl.ioctl(descriptor, request)


def _terminal(line: serial.Serial) -> int | None:
    """Give the descriptor of a line that is a terminal; None for one behind a URL."""
    descriptor = getattr(line, "fd", None)
    return descriptor if isinstance(descriptor, int) and os.isatty(descriptor) else None


def opening_cause(port: str, error: BaseException) -> str:
    """Say in plain words why opening `port` failed with `error`."""
    if "://" in port:
        return f"unreachable: {port} ({error})"
    number = getattr(error, "errno", None)
    if number in _BUSY:
        holder = holder_of(port)
        return f"busy: {port} is held by {holder}" if holder else f"busy: another program has {port} open"
    return standing_cause(port) or f"{'gone' if number in _GONE else 'not a serial port'}: {port} ({error})"


def standing_cause(port: str) -> str:
    """Say why `port` could not be opened, from looking at it; empty if nothing speaks against it."""
    try:
        status = Path(port).stat()
    except OSError as error:
        if error.errno in _ABSENT:
            return f"absent: no port {port}"
        return f"{'no permission' if error.errno in _FORBIDDEN else 'not a serial port'}: {port} ({error.strerror})"
    if not stat.S_ISCHR(status.st_mode):
        return f"not a serial port: {port} is {'a directory' if stat.S_ISDIR(status.st_mode) else 'no terminal device'}"
    if not os.access(port, os.R_OK | os.W_OK):
        return f"no permission: {port} belongs to the group {_group(status.st_gid)}; join it or install the udev rule"
    return ""


def open_failure(port: str) -> str:
    """Give one line for a person on why `port` cannot be opened and what could be; empty if it looks fine.

    Only looks, never opens: each opening may restart the board.
    """
    if "://" in port:
        return ""
    cause = standing_cause(port)
    if not cause:
        holder = holder_of(port)
        cause = f"busy: {port} is held by {holder}" if holder else ""
    if not cause.startswith("absent"):
        return cause
    ports = plugged_in_ports()
    if not ports:
        return f"{cause}; no serial port is plugged in: check the cable and the board's power"
    return f"{cause}; plugged in: {', '.join(ports)} (a by-id name stays the same when ports are renumbered)"


def is_plugged_in(port: str) -> bool:
    """Tell whether there is such a device, by its name alone; of one behind a URL it cannot be told, and is False."""
    return Path(port).exists()


def plugged_in_ports() -> list[str]:
    """Give the serial ports that are there, by their lasting by-id names where they have one."""
    try:
        lasting = sorted(_BY_ID.iterdir())
    except OSError:
        lasting = []
    named = {os.path.realpath(path) for path in lasting}
    return [str(path) for path in lasting] + sorted(
        found.device for found in list_ports.comports() if os.path.realpath(found.device) not in named
    )


def holder_of(port: str) -> str:
    """Name the process that has `port` open, as far as /proc lets us see; empty if none is seen."""
    device = os.path.realpath(port)
    for descriptors in Path("/proc").glob("[0-9]*/fd"):
        try:
            if any(_leads_to(descriptor, device) for descriptor in descriptors.iterdir()):
                name = (descriptors.parent / "comm").read_text(errors="replace").strip()
                return f"{name!a} (process {descriptors.parent.name})"
        except OSError:
            continue  # another user's process, or one that just ended
    return ""


def _leads_to(descriptor: Path, device: str) -> bool:
    try:
        return str(descriptor.readlink()) == device
    except OSError:
        return False  # closed since it was listed: the process may hold the port with another


def _group(number: int) -> str:
    try:
        return grp.getgrgid(number).gr_name
    except KeyError:
        return str(number)
