"""The page's door: every request passes here first, and every answer on its way out.

Refused are names that are not ours, methods nobody needs, and whatever another site's page asks for in a visitor's
name. Answers are given the headers that protect them. A defect behind the door is an answer too, and a line in the log.
"""

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from rampwarden.page.access import Access
from rampwarden.page.responses import PROTECTION, plain
from rampwarden.plain_logs import structlog

_METHODS = ("GET", "HEAD", "POST", "OPTIONS")
_ALLOWED = {"Allow": "GET, HEAD, POST, OPTIONS"}


class Guard:
    """Stands before `app`."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app = app
        self._access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            return
        begun = False

        async def send_protected(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                message = {**message, "headers": [*message["headers"], *PROTECTION]}
            await send(message)

        refusal = self._refusal(scope["method"], Headers(scope=scope), scope)
        try:
            await (refusal or self._app)(scope, receive, send_protected)
        except Exception as error:  # outermost of a request: the next one may fare better
            structlog.get_logger().error(f"page: unexpected {type(error).__name__} at {scope['path']!r}: {error}")
            if not begun:
                await plain("something went wrong here; the watch goes on", 500)(scope, receive, send_protected)

    def _refusal(self, method: str, headers: Headers, scope: Scope) -> ASGIApp | None:
        host = headers.get("host", "")
        own_address = scope["server"][0] if scope["server"] else ""
        if len(headers.getlist("host")) != 1 or not self._access.is_our_name(host, own_address):
            # Named by no setting, so perhaps a stranger's name that was pointed here.
            return plain("not served under this name; [page] names says which there are", 421, _CLOSE)
        if method not in _METHODS:
            return plain("this page is read, and told by POST", 405, {**_ALLOWED, **_CLOSE})
        if method == "OPTIONS":
            # No permission for other sites is among the headers, so a browser takes this for a no.
            return plain("", 204, _ALLOWED)
        if not self._is_from_our_page(method, headers, host):
            return plain("asked by a page of another site", 403, _CLOSE)
        return None

    def _is_from_our_page(self, method: str, headers: Headers, host: str) -> bool:
        origins = headers.getlist("origin")
        if origins:
            return len(origins) == 1 and self._access.is_our_origin(origins[0], host)
        if method == "POST":
            # Every browser names the origin of a POST.
            return False
        # Older browsers do not say it; there the cookie is kept from other sites' requests all the same. A link from
        # elsewhere may lead here: the page is opened then, and whoever led here sees nothing of it.
        is_opened = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
        return is_opened or headers.get("sec-fetch-site", "same-origin") in ("same-origin", "none")


# What was refused may have a body still on its way; nobody waits for it.
_CLOSE = {"Connection": "close"}
