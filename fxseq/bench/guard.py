"""Who may talk to the bench: the page that this run has opened, and nobody else.

Other programs, other pages and other local servers share the machine with it. A foreign page can
make a browser send requests here, under a name of its own that it has pointed at this machine
(rebinding), and cookies go to every port; so the bench asks for its own address in Host and Origin,
refuses what the browser says comes from elsewhere, and asks for a token that no cookie carries.
"""

import hmac
import json
from collections.abc import Iterable, Mapping
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fxseq.sequence import Fault

PROTOCOL = "bench.v1"
_BEARER = "bearer."
_POLICY = (
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self'"
    " data: blob:; connect-src 'self'; worker-src 'self'; media-src 'self' blob:; base-uri 'none';"
    " form-action 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
_METHODS = {"GET", "HEAD", "POST"}
_FRAGMENT = "Open the bench with the address that `fxseq bench` prints."

Refusal = tuple[int, Fault]
"""HTTP status, and what to say."""


def faults_json(faults: Iterable[Fault]) -> bytes:
    """Faults as the page reads them."""
    return json.dumps(
        {
            "faults": [
                {
                    "where": fault.where,
                    "found": fault.what,
                    "allowed": fault.allowed,
                    "remedy": fault.remedy,
                }
                for fault in faults
            ]
        }
    ).encode()


class Guard:
    """ASGI middleware that lets through what has the right address, origin, kind and token, and
    puts safe headers on every answer.

    host: the one value of Host, `127.0.0.1:PORT`. token: what the page was given. content_types: of
    the body of a POST, by path; application/json where a path is not named.
    """

    def __init__(
        self, app: ASGIApp, host: str, token: str, content_types: Mapping[str, str]
    ) -> None:
        self._app = app
        self._host = host
        self._token = token
        self._content_types = content_types

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        send = _with_headers(send)
        refusal = self.refusal(scope)
        if refusal is None:
            await self._app(scope, receive, send)
        elif scope["type"] == "http":
            await _answer(send, "http.response", *refusal)
        else:
            await receive()
            await _answer(send, "websocket.http.response", *refusal)

    def refusal(self, scope: Scope) -> Refusal | None:
        """Why this request is not answered; None where it is."""
        headers = _read(scope)
        checks = (
            self._address(headers),
            self._method(scope),
            self._origin(scope, headers),
            self._site(scope, headers),
            self._kind(scope, headers),
            self._bearer(scope, headers),
        )
        return next((refusal for refusal in checks if refusal is not None), None)

    def _address(self, headers: dict[str, list[str]]) -> Refusal | None:
        hosts = headers.get("host", [])
        if len(hosts) != 1:
            return 400, Fault("Host", f"it is given {len(hosts)} times", "once")
        # The exact text: a name that another server has pointed here, another port, or a longer
        # word are all something else.
        if hosts[0] == self._host:
            return None
        return (421, Fault("Host", "this is not the address of the bench", self._host, _FRAGMENT))

    def _method(self, scope: Scope) -> Refusal | None:
        if scope["type"] == "websocket" or scope["method"] in _METHODS:
            return None
        return 405, Fault("method", "it is not one of the bench's", "GET, HEAD or POST")

    def _origin(self, scope: Scope, headers: dict[str, list[str]]) -> Refusal | None:
        origins = headers.get("origin", [])
        if not origins and scope["type"] == "http" and scope["method"] != "POST":
            return None
        own = f"http://{self._host}"
        if origins == [own]:
            return None
        return (
            403,
            Fault("Origin", "the request does not come from the bench's own page", own, _FRAGMENT),
        )

    def _site(self, scope: Scope, headers: dict[str, list[str]]) -> Refusal | None:
        """What browsers say of where a request starts. Opening the page itself, from wherever,
        shows nothing without the token.
        """
        sites = headers.get("sec-fetch-site", ["none"])
        if sites in (["none"], ["same-origin"]):
            return None
        opens_page = (
            scope["type"] == "http"
            and scope["method"] == "GET"
            and scope["path"] == "/"
            and sites in (["same-site"], ["cross-site"])
            and headers.get("sec-fetch-mode") == ["navigate"]
            and headers.get("sec-fetch-dest") == ["document"]
        )
        if opens_page:
            return None
        return (
            403,
            Fault(
                "Sec-Fetch-Site",
                "the request comes from another page",
                "same-origin",
                _FRAGMENT,
            ),
        )

    def _kind(self, scope: Scope, headers: dict[str, list[str]]) -> Refusal | None:
        """The exact type makes a browser ask before it sends across origins, which is refused."""
        if scope["type"] == "websocket" or scope["method"] != "POST":
            return None
        wanted = self._content_types.get(scope["path"], "application/json")
        if headers.get("content-type") == [wanted]:
            return None
        return (415, Fault("Content-Type", "this is the wrong kind of content", wanted))

    def _bearer(self, scope: Scope, headers: dict[str, list[str]]) -> Refusal | None:
        if scope["type"] == "websocket":
            offered = [
                word.strip()
                for value in headers.get("sec-websocket-protocol", [])
                for word in value.split(",")
            ]
            tokens = [word.removeprefix(_BEARER) for word in offered if word.startswith(_BEARER)]
            is_known = PROTOCOL in offered and self._knows(tokens)
        elif scope["path"].startswith("/api/"):
            given = headers.get("authorization", [])
            is_known = self._knows(
                [word.removeprefix("Bearer ") for word in given if word.startswith("Bearer ")]
            )
        else:
            return None
        if is_known:
            return None
        return (
            401,
            Fault(
                "token",
                "it is missing, or belongs to another run",
                "this run's token",
                _FRAGMENT,
            ),
        )

    def _knows(self, tokens: list[str]) -> bool:
        """Exactly one token, compared in a time that does not depend on how much of it is right."""
        return len(tokens) == 1 and hmac.compare_digest(tokens[0].encode(), self._token.encode())


def _read(scope: Scope) -> dict[str, list[str]]:
    """Values by lower-case name; every sequence of bytes is text in Latin-1."""
    headers: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return headers


def _with_headers(send: Send) -> Send:
    """Pass messages on, with the safe headers on the start of an answer."""
    more = [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]

    async def sends(message: Message) -> None:
        if message["type"] in ("http.response.start", "websocket.http.response.start"):
            names = {name for name, _ in more}
            kept = [pair for pair in message.get("headers", ()) if pair[0].lower() not in names]
            message = {**message, "headers": [*kept, *more]}
        await send(message)

    return sends


async def _answer(send: Send, kind: str, status: int, fault: Fault) -> None:
    body = faults_json([fault])
    headers: list[tuple[bytes, bytes]] = [(b"content-type", b"application/json")]
    if (
        kind == "http.response"
    ):  # on the refusal of a websocket, the server below gives the length itself
        headers.append((b"content-length", str(len(body)).encode()))
    start: dict[str, Any] = {"type": f"{kind}.start", "status": status, "headers": headers}
    await send(start)
    await send({"type": f"{kind}.body", "body": body})
