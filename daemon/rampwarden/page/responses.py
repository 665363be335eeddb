"""What the page answers with besides its stream: its few files, kept in memory, and the headers every answer carries.

No path is ever opened for a request: what may be asked for is a table made at the start. Every answer forbids the
browser whatever the page does not need, and to keep anything: a heat out of a cache could be taken for the present one.
"""

from collections.abc import Mapping
from importlib.resources import files

from starlette.responses import Response

_TYPES: Mapping[str, str] = {
    "css": "text/css; charset=utf-8",
    "html": "text/html; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
}
PROTECTION: tuple[tuple[bytes, bytes], ...] = (
    # Scripts, styles and pictures of our own and nothing inside the page itself: a text that should slip through as
    # markup would still not be run. Trusted types take away the very functions that would make markup of it.
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        b"form-action 'self'; base-uri 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # Stricter still, and browsers would not say any more that the login comes from our own form.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)
"""Headers of every answer, refusals and mistakes included."""
_MESSAGE_PLACE = "{{message}}"


class Shelf:
    """The page's files, read once."""

    def __init__(self) -> None:
        folder = files("rampwarden.page") / "assets"
        self._files = {each.name: each.read_bytes() for each in folder.iterdir() if each.is_file()}

    @property
    def names(self) -> list[str]:
        """What there is."""
        return sorted(self._files)

    def give(self, name: str) -> Response | None:
        """Give a file as an answer; None when there is none of that name."""
        body = self._files.get(name)
        if body is None:
            return None
        return Response(body, media_type=_TYPES[name.rpartition(".")[2]])

    def login(self, message: str, status: int) -> Response:
        """Give the form that asks for a token, with a message of ours above it."""
        body = self._files["login.html"].decode().replace(_MESSAGE_PLACE, message)
        return Response(body, status_code=status, media_type=_TYPES["html"])


def plain(text: str, status: int, headers: Mapping[str, str] | None = None) -> Response:
    """Give one line of text as an answer."""
    return Response(f"{text}\n", status_code=status, media_type="text/plain; charset=utf-8", headers=headers)
