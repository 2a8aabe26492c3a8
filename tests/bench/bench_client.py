"""A client of the bench that says what it likes."""

import http.client
import json
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from websockets.sync.client import ClientConnection, connect

TOKEN = "token-of-the-tests"
LONGEST_S = 60.0
"""How long anything is waited for: a limit costs nothing where the test passes, and machines
that run tests may be slow.
"""


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body's value."""
        return json.loads(self.body)

    @property
    def found(self) -> str:
        """What the faults found, in one text."""
        return "; ".join(fault["found"] for fault in self.json["faults"])


class Client:
    """Asks the bench as its own page would, except where told otherwise."""

    def __init__(self, port: int, file: Path) -> None:
        self.port = port
        self.file = file
        self.host = f"127.0.0.1:{port}"

    def ask(
        self,
        method: str,
        path: str,
        body: bytes | Iterator[bytes] | None = None,
        **changed: str | None,
    ) -> Answer:
        """Headers by name with _ for -; None leaves one out."""
        headers: dict[str, str | None] = {"Host": self.host, "Authorization": f"Bearer {TOKEN}"}
        if method == "POST":
            headers |= {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        headers |= {name.replace("_", "-"): value for name, value in changed.items()}
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=LONGEST_S)
        try:
            line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in headers.items():
                if value is not None:
                    line.putheader(name, value)
            chunked = body is not None and not isinstance(body, bytes)
            if isinstance(body, bytes) and "Content-Length" not in headers:
                line.putheader("Content-Length", str(len(body)))
            if chunked:
                line.putheader("Transfer-Encoding", "chunked")
            line.endheaders(body, encode_chunked=chunked)
            answer = line.getresponse()
            return Answer(
                answer.status,
                {name.lower(): value for name, value in answer.getheaders()},
                answer.read(),
            )
        finally:
            line.close()

    def get(self, path: str, **changed: str | None) -> Answer:
        """GET."""
        return self.ask("GET", path, **changed)

    def post(self, path: str, body: Any = None, **changed: str | None) -> Answer:
        """POST of a JSON value, or of bytes as they are."""
        return self.ask(
            "POST",
            path,
            body if isinstance(body, bytes) else json.dumps(body or {}).encode(),
            **changed,
        )

    def edit(self, *path: str | int, value: Any, **more: Any) -> Answer:
        """Set one value."""
        return self.post("/api/edit", {"path": list(path), "value": value, **more})

    def raw(self, data: bytes) -> bytes:
        """Bytes as they are, and all that comes back."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=LONGEST_S) as line:
            line.sendall(data)
            line.shutdown(socket.SHUT_WR)
            pieces = []
            while piece := line.recv(65536):
                pieces.append(piece)
            return b"".join(pieces)

    def listen(
        self, origin: str | None = "", protocols: list[str] | None = None, **headers: str
    ) -> ClientConnection:
        """A websocket as the page opens it, except where told otherwise."""
        more = [] if origin is None else [("Origin", origin or f"http://{self.host}")]
        more += [(name.replace("_", "-"), value) for name, value in headers.items()]
        return connect(
            f"ws://{self.host}/api/changes",
            subprotocols=(["bench.v1", f"bearer.{TOKEN}"] if protocols is None else protocols)
            or None,
            additional_headers=more,
            open_timeout=LONGEST_S,
            proxy=None,
            compression=None,
        )


def wait_for(holds: Callable[[], Any], most_s: float = LONGEST_S) -> Any:
    """Ask until it holds."""
    until = time.monotonic() + most_s
    while not (value := holds()):
        assert time.monotonic() < until, "it did not come to hold"
        time.sleep(0.01)
    return value


def news(socket: ClientConnection, key: str) -> Any:
    """The next message with this key."""
    while key not in (message := json.loads(socket.recv(timeout=LONGEST_S))):
        pass
    return message[key]


def until_told(socket: ClientConnection, key: str, value: Any) -> None:
    """Read on to the message that says so; one that never comes fails."""
    while news(socket, key) != value:
        pass
