"""A real browser at the page, and a line to it that can be held up or cut. Not a test itself."""

import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from playwright.sync_api import Browser, Page, sync_playwright
from tests.page.served_page import ACT_TOKEN, PATIENCE_S, wait_until

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
OUTPUT = Path(__file__).resolve().parent.parent / "output" / "page"
# Without the sandbox, which root cannot have; the others keep it from asking for networks that a test has not.
_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
# Counts every tone that is started, and says which pitch it has.
_EARS = """
window.tones = [];
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...when) {
  window.tones.push(this.frequency.value);
  start.apply(this, when);
};
"""


@contextmanager
def open_browser() -> Iterator[Browser]:
    """Start Chromium without a window."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=list(_FLAGS))
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Visitor:
    """Somebody with a browser: one page, and every complaint of the browser about it."""

    page: Page
    complaints: list[str] = field(default_factory=list)

    def text(self, element: str) -> str:
        """Give what an element of this name says."""
        return self.page.locator(f"#{element}").text_content() or ""

    def is_shown(self, element: str) -> bool:
        """Tell whether an element of this name is to be seen."""
        return self.page.locator(f"#{element}").is_visible()

    def tap(self, element: str) -> None:
        """Tap an element of this name."""
        self.page.click(f"#{element}", timeout=1000 * PATIENCE_S)

    def until(self, condition: Callable[[], object], what: str, limit_s: float = PATIENCE_S) -> None:
        """Wait until the condition holds."""

        def holds() -> object:
            self.page.wait_for_timeout(20)  # lets the driver take what has come
            return condition()

        wait_until(holds, f"{what}; complaints: {self.complaints}", limit_s)

    def until_says(self, element: str, words: str, limit_s: float = PATIENCE_S) -> None:
        """Wait until an element says exactly this."""
        self.until(lambda: self.text(element) == words, f"{element} says {words!r}", limit_s)

    def log_in(self, url: str, token: str = ACT_TOKEN) -> None:
        """Open the page as somebody who has the token."""
        self.page.goto(f"{url}/login")
        self.page.fill("#token", token)
        self.page.click("button[type=submit]")
        self.until(lambda: self.page.locator("#temp").count() and self.text("temp") != "–", "a temperature")

    def tones(self) -> list[float]:
        """Give the pitch (Hz) of every tone so far."""
        heard: list[float] = self.page.evaluate("window.tones")
        return heard


@contextmanager
def visit(browser: Browser, url: str, *, login: bool = True, **options: Any) -> Iterator[Visitor]:  # noqa: ANN401
    """Open the page in a browser profile of its own; fails when the browser complained of anything."""
    context = browser.new_context(**{"viewport": {"width": 360, "height": 760}, **options})
    context.add_init_script(_EARS)
    visitor = Visitor(context.new_page())
    visitor.page.on("pageerror", lambda error: visitor.complaints.append(str(error)))
    visitor.page.on("console", lambda said: visitor.complaints.append(said.text) if said.type == "error" else None)
    try:
        if login:
            visitor.log_in(url)
        yield visitor
    finally:
        context.close()
    unexpected = [words for words in visitor.complaints if "net::ERR_" not in words and "status of 403" not in words]
    assert not unexpected


class Relay:
    """A line between browser and page that can be held up without a word, as bad air does, or cut."""

    def __init__(self, port: int) -> None:
        self._target = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._flows = threading.Event()
        self._flows.set()
        self._closed = False
        self._lines: list[socket.socket] = []
        self._workers = [threading.Thread(target=self._accept, name="relay")]
        self._workers[0].start()

    @property
    def url(self) -> str:
        """What the browser is to open."""
        return f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def hold_up(self) -> None:
        """Let nothing through any more; lines stay open."""
        self._flows.clear()

    def cut(self) -> None:
        """End every line; new ones are taken again."""
        lines, self._lines = self._lines, []
        for line in lines:
            with suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
        self._flows.set()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._closed = True
        self.cut()
        with suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        for worker in self._workers:
            worker.join(PATIENCE_S)

    def _accept(self) -> None:
        while not self._closed:
            try:
                near, _ = self._listener.accept()
                far = socket.create_connection(("127.0.0.1", self._target))
            except OSError:
                return
            self._lines += [near, far]
            for pair in ((near, far), (far, near)):
                worker = threading.Thread(target=self._carry, args=pair, name="relay")
                self._workers.append(worker)
                worker.start()

    def _carry(self, source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(65_536):
                self._flows.wait()
                target.sendall(data)
        for line in (source, target):
            with suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
        source.close()
