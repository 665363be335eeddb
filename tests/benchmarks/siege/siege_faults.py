"""What is done to the watch, its line, its broker and its doors: a function each, given the siege and chance."""

import contextlib
import random
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from tests.benchmarks.siege.siege_line import hostile_bytes, spoilt_sensor
from tests.benchmarks.siege.stronghold import Span, Stronghold

SiegeFault = Callable[[Stronghold, random.Random], None]
A_DAY_S = 86_400
SENSOR_ALARMS = (
    *("sensor-open", "sensor-short", "sensor-range", "sensor-noisy", "sensor-intermittent", "sensor-stuck"),
    *("sensor-reversed", "sensor-type-suspect", "sensor-lagging", "junction-range", "signal-lost"),
)
CABLE_ALARMS = ("signal-lost", "board-restarted")


# The sensor and the line


def intermittent(siege: Stronghold, chance: random.Random) -> None:
    """A loose wire: any mix of flagged, impossible and leaping frames."""
    share = chance.choice((0.03, 0.1, 0.3, 0.6, 0.9))
    what = f"intermittent sensor, {share:.0%}"
    from_s = time.monotonic()
    with siege.explaining(what, *SENSOR_ALARMS, afterwards_s=90.0):
        siege.line.mangle = spoilt_sensor(chance, share)
        time.sleep(chance.uniform(8.0, 25.0))
        siege.line.mangle = None
    siege.doubted.append(_span(from_s, what))


def hostile_line(siege: Stronghold, chance: random.Random) -> None:
    """A board that says anything between its frames."""
    what = "hostile bytes from the board"
    from_s = time.monotonic()
    with siege.explaining(what, *CABLE_ALARMS, "sensor-noisy", afterwards_s=60.0):
        siege.line.mangle = hostile_bytes(chance)
        time.sleep(chance.uniform(5.0, 15.0))
        siege.line.mangle = None
    siege.doubted.append(_span(from_s, what))


def cable_pulled(siege: Stronghold, chance: random.Random) -> None:
    """Pulled, and put back as another device behind its lasting name."""
    with siege.explaining("cable pulled", *CABLE_ALARMS, afterwards_s=20.0), siege.blinding("cable pulled"):
        siege.line.board.unplug()
        time.sleep(chance.choice((0.3, 2.0, 6.0, 12.0)))
        siege.line.board.plug_in()


# The watch


def killed(siege: Stronghold, chance: random.Random) -> None:
    """SIGKILL, and the service manager starts it again."""
    with siege.blinding("kill -9"):
        siege.watch.kill()
        time.sleep(chance.uniform(0.1, 2.0))
        siege.start_again()


def killed_twice(siege: Stronghold, chance: random.Random) -> None:
    """Killed again while it starts."""
    with siege.blinding("kill -9 at a start"):
        siege.watch.kill()
        siege.watch.start()
        time.sleep(chance.uniform(0.1, 2.5))
        siege.watch.kill()
        siege.start_again()


def halted(siege: Stronghold, chance: random.Random) -> None:
    """SIGSTOP: what the kernel kept for it is there when it goes on."""
    process = siege.watch.process
    assert process is not None
    # What the line holds meanwhile is not lost, only later; a full line loses what does not fit in.
    with siege.explaining("halted", "signal-lost", "broker-unreachable"), siege.blinding("halted", loses=False):
        process.send_signal(signal.SIGSTOP)
        time.sleep(chance.uniform(1.0, 8.0))
        process.send_signal(signal.SIGCONT)


def clock_stepped(siege: Stronghold, chance: random.Random) -> None:
    """The wall clock leaps while it watches, perhaps while it starts too."""
    by_s = chance.choice((-A_DAY_S, A_DAY_S, 5 * 365 * A_DAY_S, -int(time.time()) + 1000, 3600, -3600))
    siege.shim.step(by_s)
    time.sleep(chance.uniform(2.0, 6.0))
    if chance.random() < 0.5:
        killed(siege, chance)
    siege.shim.step(0)


# The broker


def broker_killed(siege: Stronghold, chance: random.Random) -> None:
    """Away for a while."""
    with siege.troubling_broker("broker killed"):
        siege.broker.kill()
        time.sleep(chance.uniform(0.5, 15.0))
        siege.broker.start()


def broker_frozen(siege: Stronghold, chance: random.Random) -> None:
    """It holds its connections and does nothing."""
    with siege.troubling_broker("broker frozen"):
        siege.broker.freeze()
        time.sleep(chance.uniform(3.0, 20.0))
        siege.broker.thaw()


def broker_restarted(siege: Stronghold, chance: random.Random) -> None:
    """Again and again, each time as soon as it is back."""
    with siege.troubling_broker("broker restarted"):
        for _ in range(chance.randrange(2, 6)):
            siege.broker.kill()
            time.sleep(chance.uniform(0.0, 0.5))
            siege.broker.start()
            time.sleep(chance.uniform(0.0, 1.5))


def hostile_commands(siege: Stronghold, chance: random.Random) -> None:
    """A stranger at the broker: nonsense, depths, commands that are not allowed, and our own name."""
    with siege.troubling_broker("hostile MQTT"):
        for client in _strangers(siege.broker.port):
            base = "homie/5/furnace-1"
            words = (b"[" * 5000, b"\xff\xfe", b"", b'{"alarm":', chance.randbytes(500), b"x" * 100_000, b'"\\ud800"')
            topics = ("heat/end", "alarm/shelve", "alarm/acknowledge", "heat/note", "alarm/wrong", "$state", "x/y")
            for _ in range(150):
                client.publish(f"{base}/{chance.choice(topics)}/set", chance.choice(words), qos=chance.randrange(3))
            client.publish(f"{base}/$state", "lost", qos=1, retain=True)
            time.sleep(1.0)
        if chance.random() < 0.5:
            for client in _strangers(siege.broker.port, "furnace-1"):
                time.sleep(1.5)
                client.disconnect()


# Its doors


def socket_flood(siege: Stronghold, chance: random.Random) -> None:
    """Two hundred clients at its socket, of whom none means well."""
    said = (b"\x00" * 5000, b'{"format":', b"", b"[" * 900 + b"\n", b'{"format":"rampwarden-control/1"}\n')
    until_s = time.monotonic() + chance.uniform(3.0, 6.0)
    lines: list[socket.socket] = []
    path = next(siege.watch.runtime.glob("*.sock"), None)
    if path is None:
        return
    while time.monotonic() < until_s:
        with contextlib.suppress(OSError):
            line = socket.socket(socket.AF_UNIX)
            line.settimeout(0.1)
            line.connect(str(path))
            line.sendall(chance.choice(said))
            lines.append(line)
        if len(lines) > 200:
            lines.pop(0).close()
        time.sleep(0.002)
    for line in lines:
        line.close()


def page_attacked(siege: Stronghold, chance: random.Random) -> None:
    """Strangers at its page: wrong tokens, foreign names, no requests at all, and ones that never end."""
    until_s = time.monotonic() + chance.uniform(3.0, 6.0)
    attackers = [threading.Thread(target=_attack, args=(siege.page_port, n, until_s), daemon=True) for n in range(6)]
    for attacker in attackers:
        attacker.start()
    for attacker in attackers:
        attacker.join()


def _attack(port: int, number: int, until_s: float) -> None:
    chance = random.Random(number)
    said = (
        b"GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n",
        b"GET /../../etc/passwd HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
        b"POST /command HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99999999999\r\n\r\n" + b"[" * 5000,
        b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 11\r\n\r\ntoken=wrong",
        b"GET / HTTP/1.1\r\n" + b"x: y\r\n" * 2000,
        chance.randbytes(3000),
        b"\x16\x03\x01\x02\x00" + chance.randbytes(200),
        b"G",
    )
    held = []
    while time.monotonic() < until_s:
        with contextlib.suppress(OSError):
            line = socket.create_connection(("127.0.0.1", port), timeout=0.3)
            line.sendall(chance.choice(said))
            if chance.random() < 0.5:
                line.recv(500)
            held.append(line)
        if len(held) > 40:
            held.pop(0).close()
        time.sleep(0.005)
    for line in held:
        line.close()


def _strangers(port: int, name: str = "") -> Iterator[Client]:
    client = Client(CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTProtocolVersion.MQTTv5)
    with contextlib.suppress(OSError):
        client.connect("127.0.0.1", port)
        client.loop_start()
        try:
            yield client
        finally:
            client.disconnect()
            client.loop_stop()


def _span(from_s: float, what: str) -> Span:
    return Span(from_s, time.monotonic(), what)
