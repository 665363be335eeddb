"""Ways to a broker: TLS and its mistakes, passwords, an older version, a link that is cut without a word."""

import contextlib
import os
import shutil
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from paho.mqtt.client import MQTTMessage
from tests.outputs.mqtt.broker import Broker, Consumer, Furnace, alarm, free_port, wait_until

from rampwarden.errors import BrokerError
from rampwarden.outputs.mqtt.broker import BrokerAddress, LinkParameters
from rampwarden.outputs.mqtt.link import Link
from rampwarden.outputs.mqtt.message import ArrivedMessage

pytestmark = pytest.mark.long


Light = Callable[..., Furnace]
Start = Callable[..., Broker]


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let silence be an alarm sooner, where it is the words that matter and not the time."""
    monkeypatch.setattr("rampwarden.outputs.mqtt.reachability.SILENCE_S", 0.5)


PASSWORDS = "allow_anonymous false\npassword_file {passwords}"


@pytest.fixture(scope="session")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with a small certificate authority, a broker's certificate for localhost, and a furnace's."""
    if shutil.which("openssl") is None:
        pytest.skip("no openssl on this computer")
    folder = tmp_path_factory.mktemp("certificates")

    def openssl(*words: str) -> None:
        subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)

    for name in ("ca", "stranger"):
        openssl("req", "-x509", "-newkey", "ed25519", "-nodes", "-days", "2", "-subj", f"/CN={name}", "-keyout",
                f"{name}.key", "-out", f"{name}.pem")  # fmt: skip
    for name in ("localhost", "furnace-1"):
        (folder / f"{name}.ext").write_text(f"subjectAltName=DNS:{name}\n")
        openssl("req", "-newkey", "ed25519", "-nodes", "-subj", f"/CN={name}", "-keyout", f"{name}.key", "-out",
                f"{name}.csr")  # fmt: skip
        openssl("x509", "-req", "-in", f"{name}.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial",
                "-days", "2", "-extfile", f"{name}.ext", "-out", f"{name}.pem")  # fmt: skip
    return folder


def tls_settings(authority: Path) -> str:
    """Give the settings of a broker that speaks TLS only."""
    return f"certfile {authority}/localhost.pem\nkeyfile {authority}/localhost.key\n"


def over_tls(authority: Path, **how: object) -> LinkParameters:
    """Give a furnace's way in over TLS."""
    return LinkParameters("furnace-1", tls=True, ca_file=authority / "ca.pem", **how)  # type: ignore[arg-type]


def test_alarms_travel_over_tls_and_a_certificate_about_to_end_is_said(
    make_broker: Start, make_furnace: Light, authority: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The name is verified; the certificates of these tests live two days."""
    broker = make_broker(tls_settings(authority))
    furnace = make_furnace(BrokerAddress("localhost", broker.port), parameters=over_tls(authority))
    furnace.wait_reached()
    furnace.tell(alarm(61.0))
    cursor = furnace.folder / ".mqtt-cursor-furnace-1.json"
    wait_until(lambda: '"seq":1' in cursor.read_text(), "the alarm taken")
    assert "ends in 1 days" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("host", "ca", "words"),
    [
        ("localhost", "stranger.pem", "the broker's certificate is not trusted"),
        ("127.0.0.1", "ca.pem", "the broker's certificate is not trusted"),
    ],
)
@pytest.mark.usefixtures("impatient")
def test_a_broker_that_cannot_prove_who_it_is_gets_nothing(
    make_broker: Start, make_furnace: Light, authority: Path, host: str, ca: str, words: str
) -> None:
    """Signed by a stranger, or another name than the one that was asked for."""
    broker = make_broker(tls_settings(authority))
    parameters = LinkParameters("furnace-1", tls=True, ca_file=authority / ca)
    furnace = make_furnace(BrokerAddress(host, broker.port), parameters=parameters)
    furnace.wait_showing(furnace.lost, "broker-unreachable")
    assert words in furnace.lost()[0]
    assert furnace.reached == [False]


@pytest.mark.usefixtures("impatient")
def test_tls_at_a_port_without_it_and_none_at_a_port_with_it_are_said_as_such(
    make_broker: Start, make_furnace: Light, authority: Path, tmp_path: Path
) -> None:
    """The usual mistake, in both directions."""
    plain, secret = make_broker(), make_broker(tls_settings(authority))
    (tmp_path / "other").mkdir()
    one = make_furnace(BrokerAddress("localhost", plain.port), parameters=over_tls(authority))
    other = Furnace(tmp_path / "other", BrokerAddress("localhost", secret.port)).light()
    with contextlib.closing(contextlib.ExitStack()) as ending:
        ending.callback(other.end)
        one.wait_showing(one.lost, "TLS where there is none")
        other.wait_showing(other.lost, "none where there is TLS")
    assert "TLS" in one.lost()[0]
    assert "do both sides speak TLS, or neither?" in other.lost()[0]


def test_a_furnace_shows_its_own_certificate(make_broker: Start, make_furnace: Light, authority: Path) -> None:
    """And is let in by it, under the name that stands there."""
    broker = make_broker(
        f"{tls_settings(authority)}cafile {authority}/ca.pem\nrequire_certificate true\nuse_identity_as_username true\n"
        "log_type all\n"
    )
    parameters = over_tls(authority, certificate=authority / "furnace-1.pem", key=authority / "furnace-1.key")
    furnace = make_furnace(BrokerAddress("localhost", broker.port), parameters=parameters)
    furnace.wait_reached()
    wait_until(lambda: "u'furnace-1'" in broker.log.read_text(), "the name from the certificate")


@pytest.mark.usefixtures("impatient")
def test_a_password_is_read_from_its_file_at_each_connection(
    make_broker: Start, make_furnace: Light, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that is wrong at first and put right later needs no restart."""
    # Long enough for a busy machine to get the broker's answer first.
    monkeypatch.setattr("rampwarden.outputs.mqtt.reachability.SILENCE_S", 3.0)
    broker = make_broker(PASSWORDS, fill={"passwords": hashed("furnace-1", "right", tmp_path)})
    secret = tmp_path / "secret"
    secret.write_text("wrong\n")
    furnace = make_furnace(
        broker.address, parameters=LinkParameters("furnace-1", user="furnace-1", password_file=secret)
    )
    furnace.wait_showing(furnace.lost, "broker-unreachable")
    assert "the broker refuses us: Not authorized" in furnace.lost()[0]
    secret.write_text("right\nand a second line that is none of its business\n")
    furnace.wait_reached()


def hashed(user: str, password: str, folder: Path) -> str:
    """Give the text of a broker's password file."""
    if shutil.which("mosquitto_passwd") is None:
        pytest.skip("no mosquitto_passwd on this computer")
    file = folder / "hashed"
    subprocess.run(["mosquitto_passwd", "-c", "-b", str(file), user, password], check=True, capture_output=True)
    return file.read_text()


def test_files_that_cannot_be_used_are_named(tmp_path: Path) -> None:
    """Before the heat, not at its first alarm."""
    with pytest.raises(BrokerError, match=r"cannot use .*no\.pem"):
        LinkParameters("x", tls=True, ca_file=tmp_path / "no.pem").context()
    with pytest.raises(BrokerError, match=r"cannot read the password from .*no: "):
        LinkParameters("x", password_file=tmp_path / "no").password()
    (tmp_path / "binary").write_bytes(b"\xff\xfe")
    with pytest.raises(BrokerError, match="cannot read the password"):
        LinkParameters("x", password_file=tmp_path / "binary").password()


def test_an_address_is_written_as_it_would_be_typed() -> None:
    """And it knows whether it stays on this computer."""
    assert str(BrokerAddress("::1", 1883)) == "[::1]:1883"
    loopback = [BrokerAddress(host, 1).is_loopback for host in ("localhost", "127.8.9.1", "::1", "10.0.0.1", "shop")]
    assert loopback == [True, True, True, False, False]


@pytest.fixture
def old_broker(broker: Broker) -> Iterator[int]:
    """Give the port of a broker that knows MQTT 3.1.1 only: a gate before a real one that turns version 5 away."""
    with socket.create_server(("127.0.0.1", 0)) as gate:
        gate.settimeout(0.1)
        stop = threading.Event()
        threads = [threading.Thread(target=_keep_gate, args=(gate, broker.port, stop))]
        threads[0].start()
        yield gate.getsockname()[1]
        stop.set()
        threads[0].join()


def _keep_gate(gate: socket.socket, port: int, stop: threading.Event) -> None:
    pipes = []
    while not stop.is_set():
        with contextlib.suppress(TimeoutError):
            visitor, _ = gate.accept()
            first = visitor.recv(4096)
            version = first[first.index(b"MQTT") + 4]
            if version == 5:
                visitor.sendall(b"\x20\x02\x00\x01")
                visitor.close()
                continue
            inside = socket.create_connection(("127.0.0.1", port))
            inside.sendall(first)
            for source, sink in ((visitor, inside), (inside, visitor)):
                pipes.append(threading.Thread(target=_pipe, args=(source, sink)))
                pipes[-1].start()
    for pipe in pipes:
        pipe.join()


def _pipe(source: socket.socket, sink: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while data := source.recv(4096):
            sink.sendall(data)
    with contextlib.suppress(OSError):
        sink.shutdown(socket.SHUT_RDWR)
    source.close()


def test_an_older_broker_is_spoken_to_in_its_own_version_with_a_warning(
    old_broker: int,
    listen: Callable[..., Consumer],
    make_furnace: Light,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Alarms arrive; what cannot be known there is said."""
    consumer = listen("homie/#")
    furnace = make_furnace(BrokerAddress("127.0.0.1", old_broker))
    furnace.wait_reached()
    furnace.tell(alarm(61.0))
    assert '"late":false' in consumer.wait_for("alarm/event", "ramp-high").text
    consumer.wait_for("$state", "ready")
    warned = capsys.readouterr().out
    assert "does not speak version 5" in warned
    assert "nobody listening goes unnoticed" in warned
    furnace.end()
    consumer.wait_for("$state", "disconnected")


def test_a_link_that_is_dropped_while_it_connects_ends_by_itself() -> None:
    """A broker that accepts and never answers must not hold a thread for ever."""
    with socket.create_server(("127.0.0.1", 0)) as silent:
        news: list[object] = []
        link = Link(
            BrokerAddress("127.0.0.1", silent.getsockname()[1]), LinkParameters("x"), lambda _, what: news.append(what)
        )
        link.open()
        with silent.accept()[0]:
            link.drop()
            link.close(0.1)
            wait_until(lambda: not _threads_of(link), "its threads gone")


def test_commands_that_come_faster_than_they_are_looked_at_are_dropped() -> None:
    """Whoever sends so many is not operating a furnace, and the memory they would wait in is the watch's."""
    came: list[str] = []

    def hear(_: Link, news: object) -> None:
        if isinstance(news, ArrivedMessage):
            came.append(news.topic)

    link = Link(BrokerAddress("127.0.0.1", 1), LinkParameters("x"), hear, most_arrived=3)
    for number in range(5):
        link._take_message(link._client, None, MQTTMessage(topic=b"command/%d" % number))
    assert came == ["command/0", "command/1", "command/2"]
    link.looked_at()
    for number in (5, 6):
        link._take_message(link._client, None, MQTTMessage(topic=b"command/%d" % number))
    assert came[3:] == ["command/5"], "one was looked at, which made room for one"


def _threads_of(_link: Link) -> list[str]:
    return [thread.name for thread in threading.enumerate() if "mqtt" in thread.name]


@pytest.mark.usefixtures("impatient")
def test_a_name_nobody_knows_is_said(make_furnace: Light) -> None:
    """The resolver's words, not a number."""
    furnace = make_furnace(BrokerAddress("no-such-broker.invalid", free_port()))
    furnace.wait_showing(furnace.lost, "broker-unreachable")
    assert "name" in furnace.lost()[0]


@pytest.mark.root
@pytest.mark.skipif(os.geteuid() != 0 or shutil.which("ip") is None, reason="needs root and ip")
def test_a_cut_cable_is_noticed_and_everything_arrives_after_it_is_mended(tmp_path: Path, make_furnace: Light) -> None:
    """No packet says that a cable was cut: the furnace finds out by itself, rings, and forgets nothing."""
    with wire() as (space, far, cut, mend), contextlib.ExitStack() as ending:
        broker = Broker(tmp_path, host=far, prefix=("ip", "netns", "exec", space))
        ending.callback(broker.kill)
        broker.start()
        wait_until(broker._answers, "the broker at the far end")
        furnace = make_furnace(broker.address)
        consumer = Consumer(broker.port, "homie/#", host=far)
        ending.callback(consumer.close)
        furnace.wait_reached()
        consumer.wait_for("$state", "ready")
        cut()
        furnace.tell(alarm(61.0))
        furnace.wait_showing(lambda: furnace.reached[-1] is False, "the bell takes over")
        furnace.wait_showing(furnace.lost, "broker-unreachable")
        furnace.tell(alarm(62.0, name="ramp-low"))
        mend()
        with contextlib.closing(Consumer(broker.port, "homie/#", host=far)) as after:
            furnace.wait_showing(
                lambda: {"heat-1:aa:1", "heat-1:aa:2"} <= {*consumer.keys(), *after.keys()}, "both events"
            )
            furnace.wait_reached()


@contextlib.contextmanager
def wire() -> Iterator[tuple[str, str, Callable[[], None], Callable[[], None]]]:
    """Give a network of two with a cable that can be cut: a name for the far side, its address, cut, mend."""
    space = f"far-{os.getpid()}"
    near_end, far_end = f"n{os.getpid()}", f"f{os.getpid()}"
    near, far = "10.231.77.1", "10.231.77.2"

    def ip(*words: str) -> None:
        subprocess.run(["ip", *words], check=True, capture_output=True)

    try:
        ip("netns", "add", space)
    except subprocess.CalledProcessError:
        pytest.skip("no network namespaces here")
    try:
        ip("link", "add", near_end, "type", "veth", "peer", "name", far_end, "netns", space)
        ip("addr", "add", f"{near}/24", "dev", near_end)
        ip("link", "set", near_end, "up")
        ip("-n", space, "addr", "add", f"{far}/24", "dev", far_end)
        ip("-n", space, "link", "set", far_end, "up")
        # Deleting the far address cuts without a reset: packets go out and nothing comes back.
        yield (
            space,
            far,
            lambda: ip("-n", space, "addr", "del", f"{far}/24", "dev", far_end),
            lambda: ip("-n", space, "addr", "add", f"{far}/24", "dev", far_end),
        )
    finally:
        ip("netns", "del", space)
