"""Strangers at the page: refused or harmless, and the watch untouched. Bytes are sent as no browser would."""

import json
import re
import socket
import ssl
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.page.served_page import (
    PATIENCE_S,
    READ_TOKEN,
    Served,
    read_answer,
    read_stream,
    rules,
    wait_until,
)

from rampwarden.core.model import Command, CommandName, Notice, NoticeName
from rampwarden.errors import SettingsError
from rampwarden.page.server import ListenAddress

NOTE = b'{"command": "note", "text": "gas at 0.04 bar"}'


@pytest.fixture
def served() -> Iterator[Served]:
    """A page open to read for everybody on this computer, with a token to act."""
    running = Served()
    yield running
    running.close()


@pytest.fixture
def guarded() -> Iterator[Served]:
    """A page with a token to read and one to act."""
    running = Served(rules(READ_TOKEN))
    yield running
    running.close()


# Tokens


@pytest.mark.parametrize(("path", "status"), [("/", 303), ("/stream", 401), ("/page.html", 404)])
def test_without_a_token_nothing_of_the_heat_is_told(guarded: Served, path: str, status: int) -> None:
    """The page sends to the login; the stream is refused."""
    answer = guarded.ask(path=path)
    assert answer.status == status
    assert b"A first heat" not in answer.body
    if status == 303:
        assert answer.headers["location"] == "/login"


def test_a_wrong_token_opens_nothing_and_soon_costs_a_wait_but_the_right_one_opens(guarded: Served) -> None:
    """Five wrong ones, then a pause that is named; somebody else's wrong ones lock nobody out."""
    for _ in range(5):
        answer = guarded.log_in("wrong and long enough")
        assert (answer.status, "set-cookie" in answer.headers) == (403, False)
    answer = guarded.log_in("wrong and long enough")
    assert answer.status == 429
    assert 0 < int(answer.headers["retry-after"]) <= 60
    assert guarded.ask(path="/stream").status == 401
    assert guarded.log_in().cookie


def test_who_may_only_look_cannot_act(guarded: Served) -> None:
    """Reading and acting are separate rights."""
    cookie = guarded.log_in(READ_TOKEN).cookie
    assert guarded.ask(cookie=cookie).status == 200
    assert guarded.order(NOTE, cookie=cookie).status == 403
    assert guarded.order(NOTE, cookie="").status == 401
    assert guarded.heard == []


def test_who_has_logged_out_is_a_stranger_again(guarded: Served) -> None:
    """The cookie is taken back."""
    answer = guarded.ask("POST", "/logout", cookie=guarded.log_in().cookie)
    assert answer.status == 303
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert guarded.ask(cookie=answer.cookie).status == 303


# Other sites


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1", ""])
@pytest.mark.parametrize("path", ["/order", "/login", "/logout"])
def test_a_page_of_another_site_can_order_nothing_even_in_the_name_of_somebody_let_in(
    served: Served, path: str, origin: str
) -> None:
    """The browser says where an order comes from; one that does not say it is refused as well."""
    answer = served.ask("POST", path, NOTE, origin=origin, cookie=served.log_in().cookie)
    assert answer.status == 403
    assert served.heard == []


@pytest.mark.parametrize("host", ["evil.example", f"evil.example:{80}", "127.0.0.1.evil.example", ""])
def test_a_strangers_name_that_was_pointed_here_is_not_answered(served: Served, host: str) -> None:
    """Else any site could read the page through a visitor's browser."""
    answer = served.ask(host=host)
    assert answer.status in (400, 421)
    assert b"<html" not in answer.body


@pytest.mark.parametrize(
    ("path", "headers", "status"),
    [
        ("/stream", {"origin": "http://evil.example"}, 403),
        ("/stream", {"sec_fetch_site": "cross-site", "sec_fetch_mode": "no-cors"}, 403),
        ("/page.css", {"sec_fetch_site": "same-site", "sec_fetch_mode": "no-cors"}, 403),
        ("/", {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "iframe"}, 403),
        ("/", {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "document"}, 200),
        ("/page.css", {"sec_fetch_site": "same-origin", "sec_fetch_mode": "no-cors"}, 200),
    ],
)
def test_another_site_may_link_here_and_no_more(
    served: Served, path: str, headers: dict[str, str], status: int
) -> None:
    """Not embed, not fetch."""
    assert served.ask(path=path, **headers).status == status


@pytest.mark.parametrize(
    "ask",
    [
        {"path": "/"},
        {"path": "/login"},
        {"path": "/main.js"},
        {"path": "/nothing"},
        {"path": "/", "host": "evil.example"},
        {"method": "OPTIONS"},
        {"method": "DELETE"},
        {"method": "POST", "path": "/order", "body": b"{"},
    ],
    ids=str,
)
def test_every_answer_forbids_the_browser_what_the_page_does_not_need(served: Served, ask: dict[str, object]) -> None:
    """Refusals included: no script but our own, no frame, no guess at types, no copy kept, no permission to others."""
    headers = served.ask(**ask).headers  # type: ignore[arg-type]
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self';")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert headers["referrer-policy"] == "same-origin"
    assert not [name for name in headers if name.startswith("access-control-")]


# What is sent


def test_an_order_reaches_the_watch_with_the_address_it_came_from(served: Served) -> None:
    """Spaces are tidied; who it is says the line, not the sender."""
    answer = served.order(b'{"command":"note","text":"  gas at \\u202e 0.04\\nbar ","by":"somebody else","time_s":-5}')
    assert (answer.status, json.loads(answer.body)["taken"]) == (202, True)
    assert served.heard == [Command(0.0, CommandName.NOTE, text="gas at � 0.04 bar", by="page:127.0.0.1")]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"not json", 400),
        (b"[" * 5000, 400),
        (b'{"command":"note","text":"\xff"}', 400),
        (b'{"command":"note"}', 400),
        (b'{"command":"end-heat"}', 400),
        (b'{"command":"skip-segment","text":" "}', 400),
        (b'{"command":"answer","text":""}', 400),
        (b'{"command":"answer","text":"yes","question":-1}', 400),
        (b'{"command":"spot"}', 400),
        (b'{"command":"spot","spot":{"reading":"hot"}}', 400),
        (b'{"command":"spot","spot":{"reading":"%s"}}' % (b"9" * 100), 400),
        (b'{"command":"spot","spot":{"reading":"914 C","emissivity":0}}', 400),
        (b'{"command":"spot","spot":{"reading":"914 C","emissivity":1e999}}', 400),
        (b'{"command":"spot","spot":{"reading":"914 C","band":"x"}}', 400),
        (b'{"command":"mark","text":"gauge"}', 400),
        (b'{"command":"acknowledge","alarm":"no such alarm"}', 400),
        (b'{"command":"mark","text":" "}', 400),
        (b'{"command":"note","text":"%s"}' % (b"x" * 501), 400),
        (b'{"command":"note","text":"%s"}' % (b"x" * 9000), 413),
    ],
    ids=lambda value: value[:40] if isinstance(value, bytes) else value,
)
def test_an_order_that_is_none_or_not_allowed_from_here_is_refused_with_its_reason(
    served: Served, body: bytes, status: int
) -> None:
    """And the watch hears nothing of it."""
    assert served.order(body).status == status
    assert served.heard == []


def test_an_order_that_a_plain_form_could_send_is_refused(served: Served) -> None:
    """A form of another site could not say that it is JSON."""
    assert served.order(NOTE, content_type="text/plain").status == 415
    assert served.heard == []


def test_more_than_twenty_orders_in_ten_seconds_are_refused(served: Served) -> None:
    """Each one that is taken is written into the record."""
    cookie = served.log_in().cookie
    statuses = [served.order(NOTE, cookie=cookie).status for _ in range(25)]
    assert statuses == [202] * 20 + [429] * 5
    assert len(served.heard) == 20


def test_a_body_without_end_is_cut_short(served: Served) -> None:
    """Whatever length it claims."""
    cookie = served.log_in().cookie
    head = (
        f"POST /order HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\norigin: {served.origin}\r\ncookie: {cookie}\r\n"
        "content-type: application/json\r\ncontent-length: 1000000000\r\n\r\n"
    )
    with served.connect() as line:
        line.sendall(head.encode() + b"x" * 100_000)
        assert read_answer(line).status == 413


@pytest.mark.parametrize(
    "path",
    [
        "/../page.html",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/..%2fserver.py",
        "//etc/passwd",
        "/assets/../x",
        "/%00",
        "/\\..\\x",
    ],
)
def test_a_path_that_climbs_out_leads_nowhere(served: Served, path: str) -> None:
    """What there is to be had is a table; no path is opened."""
    answer = served.ask(path=path)
    assert answer.status in (400, 404)
    assert b"root:" not in answer.body


def test_a_script_in_a_note_is_a_text_in_the_stream(served: Served) -> None:
    """It stands there as JSON; the page puts it in as text (the browser's tests see to that)."""
    served.heat.note("</script><script>alert(1)</script>\n\ndata: {}")
    with served.connect() as line:
        line.sendall(f"GET /stream HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\n\r\n".encode())
        received = read_stream(line, b"alert(1)")
    assert b"\\n\\ndata: {}" in received


@pytest.mark.parametrize("path", ["/", "/main.js", "/stream", "/login"])
def test_head_gives_the_headers_alone(served: Served, path: str) -> None:
    """The stream's too, without beginning one."""
    answer = served.ask("HEAD", path)
    assert (answer.status, answer.body) == (200, b"")


def test_other_methods_are_refused_and_options_say_which_there_are(served: Served) -> None:
    """Whatever the path."""
    assert served.ask("DELETE", "/order").status == 405
    answer = served.ask("OPTIONS", "/order")
    assert (answer.status, answer.headers["allow"]) == (204, "GET, HEAD, POST, OPTIONS")


@pytest.mark.parametrize(
    "request_",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"GET / HTTP/1.1\r\nhost: a\r\nhost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\nx: " + b"x" * 40_000,
        b"POST /order HTTP/1.1\r\ncontent-length: 5\r\ntransfer-encoding: chunked\r\n\r\n0\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
    ],
    ids=["TLS", "two hosts", "long head", "two lengths", "version"],
)
def test_what_is_no_request_is_refused_and_the_page_goes_on(served: Served, request_: bytes) -> None:
    """Nothing of it is read further."""
    with served.connect() as line:
        line.sendall(request_)
        assert read_answer(line).status in (400, 421)
    assert served.ask().status == 200


# How it is sent


def test_a_request_that_drips_in_is_cut_off(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether its head or its body drips; the usual patience is five seconds."""
    monkeypatch.setattr("rampwarden.page.connection._REQUEST_WITHIN_S", 1.0)
    monkeypatch.setattr("rampwarden.page.app._BODY_WITHIN_S", 1.0)
    cookie = served.log_in().cookie
    body = (
        f"POST /order HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\norigin: {served.origin}\r\ncookie: {cookie}\r\n"
        "content-type: application/json\r\ncontent-length: 10\r\n\r\n{"
    ).encode()
    lines = [served.connect() for _ in range(3)]
    lines[1].sendall(b"GET / HTTP/1.1\r\nho")
    lines[2].sendall(body)
    for line in lines:
        with line:
            received = b""
            while part := line.recv(4096):
                received += part
            assert not received.startswith(b"HTTP/1.1 2")
    assert served.heard == []


def test_two_hundred_idle_lines_keep_nobody_out(served: Served) -> None:
    """The one that has been idle longest goes; a page that is open stays open."""
    with served.connect() as page:
        page.sendall(f"GET /stream HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\n\r\n".encode())
        read_stream(page, b"event: whole")
        lines = [served.connect() for _ in range(200)]
        assert served.ask().status == 200
        served.heat.read(123.0)
        read_stream(page, b'"temp_c":123.0')
        wait_until(
            lambda: sum(is_closed(line) for line in lines) >= 200 - 128, "the longest idle ones to go", limit_s=4.0
        )
        for line in lines:
            line.close()


def is_closed(line: socket.socket) -> bool:
    """Tell whether the other end has ended a line on which nothing was said."""
    line.setblocking(False)
    try:
        return line.recv(1) == b""
    except BlockingIOError:
        return False
    except ConnectionError:
        return True


def test_more_pages_than_there_is_room_for_are_told_so(served: Served) -> None:
    """And one that leaves makes room."""
    request = f"GET /stream HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\n\r\n".encode()
    pages = []
    for _ in range(40):
        pages.append(served.connect())
        pages[-1].sendall(request)
        read_stream(pages[-1], b"event: whole")
    assert served.ask(path="/stream").status == 503
    pages.pop().close()
    with served.connect() as page:
        wait_until(lambda: _is_let_in(served, request), "room for another page")
        page.close()
    for each in pages:
        each.close()


def _is_let_in(served: Served, request: bytes) -> bool:
    with served.connect() as page:
        page.sendall(request)
        return page.recv(4096).startswith(b"HTTP/1.1 200")


@pytest.mark.parametrize("is_cut_off", [False, True])
def test_a_page_that_takes_nothing_holds_up_nobody_and_is_cut_off(
    served: Served, monkeypatch: pytest.MonkeyPatch, is_cut_off: bool
) -> None:
    """The others see every reading; a watch that waited for it would wait for an hour where it is not cut off."""
    monkeypatch.setattr("rampwarden.page.app._TAKES_NOTHING_S", 0.5 if is_cut_off else 3600.0)
    request = f"GET /stream HTTP/1.1\r\nhost: 127.0.0.1:{served.port}\r\n\r\n".encode()
    slow = socket.socket()
    slow.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    slow.settimeout(PATIENCE_S)
    with slow, served.connect() as quick:
        slow.connect(("127.0.0.1", served.port))
        for line in (slow, quick):
            line.sendall(request)
        read_stream(quick, b"event: whole")
        for number in range(10):
            # More than the kernel takes for a reader that has stopped.
            served.heat.note("x" * 100_000)
            served.heat.read(100.0 + number)
            read_stream(quick, f'"temp_c":{100.0 + number}'.encode())
        if is_cut_off:
            with pytest.raises(ConnectionError):
                read_stream(slow, b"never said")


def test_what_goes_wrong_behind_the_door_is_an_answer_and_the_page_goes_on(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A defect of ours shows nothing of itself to a stranger."""
    monkeypatch.setattr("rampwarden.page.responses.Shelf.give", lambda *_: 1 / 0)
    answer = served.ask(path="/main.js")
    assert answer.status == 500
    assert b"ZeroDivision" not in answer.body
    monkeypatch.undo()
    assert served.ask(path="/main.js").status == 200


def test_a_server_that_dies_is_started_again_in_its_place_and_the_watch_is_told(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other outputs then raise output-failing."""
    monkeypatch.setattr("rampwarden.page.stream.Stream._say_what_is_new", lambda _stream: 1 / 0)
    wait_until(lambda: served.heard, "the news of a death")
    monkeypatch.undo()
    notice = served.heard[0]
    assert isinstance(notice, Notice)
    assert notice.notice is NoticeName.OUTPUT_FAILING
    assert notice.text.startswith("the page had died (ZeroDivisionError")
    wait_until(lambda: _is_served(served), "a page again")


def _is_served(served: Served) -> bool:
    try:
        return served.ask().status == 200
    except (OSError, ValueError, IndexError):
        return False


# Its place


def test_a_place_that_is_taken_is_refused_by_its_name(served: Served) -> None:
    """Before any heat has begun."""
    with pytest.raises(SettingsError, match=rf"page.address = '127.0.0.1:{served.port}': cannot listen there"):
        Served(port=served.port)


def test_a_page_served_at_every_address_is_told_by_its_name() -> None:
    """Nobody can open 0.0.0.0 from elsewhere."""
    place = ListenAddress("0.0.0.0", 0, None, is_behind_proxy=False)
    served = Served(rules(READ_TOKEN, "a token to act with", "furnace-1.local"), place)
    assert served.url == f"http://furnace-1.local:{served.port}"
    assert served.ask(host="furnace-1.local").status == 303
    served.close()


def test_behind_a_proxy_it_is_believed_whom_the_proxy_asks_for() -> None:
    """The last entry is the proxy's own; what stands before it the client has made up."""
    place = ListenAddress("127.0.0.1", 0, None, is_behind_proxy=True)
    served = Served(rules("", "a token to act with", "furnace.example", is_secure=True), place)
    proxied = {"host": "furnace.example", "origin": "https://furnace.example"}
    form = {"content_type": "application/x-www-form-urlencoded", **proxied}
    login = served.ask("POST", "/login", b"token=a+token+to+act+with", **form)
    assert "Secure" in login.headers["set-cookie"]
    forwarded = {"x_forwarded_for": "1.2.3.4, 192.168.1.9", "cookie": login.cookie, **proxied}
    assert served.ask("POST", "/order", NOTE, **forwarded).status == 202
    assert [command.by for command in served.heard if isinstance(command, Command)] == ["page:192.168.1.9"]
    served.close()


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for localhost, and its key."""
    folder = tmp_path_factory.mktemp("certificate")
    key, certificate = folder / "page.key", folder / "page.pem"
    what = ["-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2"]
    whose = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1"]
    where = ["-keyout", str(key), "-out", str(certificate)]
    subprocess.run(["openssl", "req", *what, *whose, *where], check=True, capture_output=True)
    return certificate, key


def test_with_a_certificate_it_speaks_tls_and_nothing_else(certificate: tuple[Path, Path]) -> None:
    """And who never ends the handshake keeps nobody out."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(*certificate)
    served = Served(rules(is_secure=True), ListenAddress("127.0.0.1", 0, context, is_behind_proxy=False))
    assert served.url.startswith("https://")
    silent = [served.connect() for _ in range(150)]
    trusting = ssl.create_default_context(cafile=certificate[0])
    with trusting.wrap_socket(served.connect(), server_hostname="127.0.0.1") as line:
        line.sendall(f"GET / HTTP/1.1\r\nhost: localhost:{served.port}\r\nconnection: close\r\n\r\n".encode())
        assert read_answer(line).status == 200
    with served.connect() as line:
        line.sendall(b"GET / HTTP/1.1\r\nhost: localhost\r\n\r\n")
        assert not re.match(rb"HTTP/", line.recv(100))
    wait_until(
        lambda: sum(is_closed(each) for each in silent) >= 150 - 128, "the longest silent ones to go", limit_s=4.0
    )
    for each in silent:
        each.close()
    served.close()
