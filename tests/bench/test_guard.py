"""Who may talk to the bench. The checks are those usual for servers of one user's own machine;
sources beside them where there is one.
"""

import json
import re
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from aside import ASIDE
from bench_client import LONGEST_S, TOKEN, Client
from hypothesis import given, settings
from hypothesis import strategies as st
from websockets.exceptions import ConnectionClosed, InvalidStatus

OTHERS = [
    "evil.test",
    "evil.test:{port}",
    "127.0.0.1",
    "127.0.0.1:1",
    "127.0.0.1:{port}.evil.test",
    "127.0.0.1:{port}0",
    "localhost:{port}",
    "[::1]:{port}",
    "0.0.0.0:{port}",
    "127.1:{port}",
    " 127.0.0.1:{port},evil.test",
    "127.0.0.1:{port}@evil.test",
    "user@127.0.0.1:{port}",
]
"""Names that a rebinding, a wrong port, or a match of a prefix would let in."""


# Check 1: bound to this machine alone, any free port.


def test_it_listens_on_the_loopback_address_alone(steady: Client) -> None:
    from fxseq.bench.running import listen_on

    with listen_on(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"
        assert listener.getsockname()[1] > 0


def test_another_address_of_this_machine_gets_no_answer(steady: Client) -> None:
    # All of 127.0.0.0/8 is this machine (RFC 6890).
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.2", steady.port), timeout=LONGEST_S)


# Check 2: exact Host, on http and websocket.


@pytest.mark.parametrize("host", OTHERS)
def test_a_rebound_name_is_refused(steady: Client, host: str) -> None:
    """421 Misdirected Request: RFC 9110, 15.5.20."""
    assert steady.get("/", Host=host.format(port=steady.port)).status == 421


@pytest.mark.parametrize("host", OTHERS[:4])
def test_a_rebound_name_is_refused_on_the_websocket(steady: Client, host: str) -> None:
    answer = steady.get(
        "/api/changes",
        Host=host.format(port=steady.port),
        Upgrade="websocket",
        Connection="Upgrade",
        Sec_WebSocket_Version="13",
        Sec_WebSocket_Key="dGhlIHNhbXBsZSBub25jZQ==",
        Sec_WebSocket_Protocol=f"bench.v1, bearer.{TOKEN}",
        Origin=f"http://{steady.host}",
    )
    assert answer.status == 421


def test_a_missing_host_is_refused(steady: Client) -> None:
    """400: RFC 9112, 3.2."""
    assert steady.raw(b"GET / HTTP/1.1\r\n\r\n").startswith(b"HTTP/1.1 400 ")
    assert steady.raw(b"GET / HTTP/1.0\r\n\r\n").startswith(b"HTTP/1.1 400 ")


def test_two_hosts_are_refused(steady: Client) -> None:
    """400: RFC 9112, 3.2."""
    host = f"Host: {steady.host}\r\n".encode()
    assert steady.raw(b"GET / HTTP/1.1\r\n" + host + host + b"\r\n").startswith(b"HTTP/1.1 400 ")


def test_an_absolute_target_does_not_stand_for_host(steady: Client) -> None:
    answer = steady.raw(f"GET http://{steady.host}/ HTTP/1.1\r\nHost: evil.test\r\n\r\n".encode())
    assert answer.startswith(b"HTTP/1.1 421 ")


# Check 3: Origin.

ORIGINS = [
    None,
    "null",
    "http://evil.test",
    "http://127.0.0.1:1",
    "http://127.0.0.1",
    "https://127.0.0.1:{port}",
    "http://localhost:{port}",
    "http://127.0.0.1:{port}.evil.test",
    "http://127.0.0.1:{port}/",
]


@pytest.mark.parametrize("origin", ORIGINS)
def test_a_change_from_a_foreign_origin_is_refused(steady: Client, origin: str | None) -> None:
    answer = steady.post("/api/redo", Origin=origin and origin.format(port=steady.port))
    assert answer.status == 403


@pytest.mark.parametrize("origin", ORIGINS)
def test_a_websocket_of_a_foreign_origin_is_refused(steady: Client, origin: str | None) -> None:
    """Websockets are not held to one origin by browsers: RFC 6455, 10.2."""
    with pytest.raises(InvalidStatus) as refused:
        steady.listen(origin and origin.format(port=steady.port))
    assert refused.value.response.status_code == 403


def test_a_read_that_names_a_foreign_origin_is_refused(steady: Client) -> None:
    assert steady.get("/api/prop", Origin="http://evil.test").status == 403


# Check 4: Sec-Fetch-Site (W3C Fetch Metadata Request Headers).


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none, cross-site", "elsewhere", ""])
@pytest.mark.parametrize("path", ["/api/prop", "/page/player.wasm", "/"])
def test_what_starts_at_another_page_is_refused(steady: Client, path: str, site: str) -> None:
    assert (
        steady.get(
            path, Sec_Fetch_Site=site, Sec_Fetch_Mode="no-cors", Sec_Fetch_Dest="script"
        ).status
        == 403
    )


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_the_page_may_be_opened_from_elsewhere(steady: Client, site: str) -> None:
    assert (
        steady.get(
            "/", Sec_Fetch_Site=site, Sec_Fetch_Mode="navigate", Sec_Fetch_Dest="document"
        ).status
        == 200
    )
    assert (
        steady.get(
            "/", Sec_Fetch_Site=site, Sec_Fetch_Mode="navigate", Sec_Fetch_Dest="iframe"
        ).status
        == 403
    )
    assert (
        steady.get(
            "/api/prop", Sec_Fetch_Site=site, Sec_Fetch_Mode="navigate", Sec_Fetch_Dest="document"
        ).status
        == 403
    )


@pytest.mark.parametrize("site", ["same-origin", "none", None])
def test_the_page_itself_is_answered(steady: Client, site: str | None) -> None:
    assert steady.get("/api/prop", Sec_Fetch_Site=site).status == 200


# Check 5: the token.

WRONG = [
    None,
    "",
    "Bearer",
    "Bearer ",
    "Bearer nonsense",
    f"Bearer {TOKEN[:-1]}",
    f"Bearer {TOKEN}x",
    f"bearer {TOKEN}",
    f"Basic {TOKEN}",
    TOKEN,
    f"Bearer  {TOKEN}",
    "Bearer \xe4",
]


@pytest.mark.parametrize("given", WRONG)
@pytest.mark.parametrize(
    "path", ["/api/prop", "/api/table", "/api/export", "/api/clips/crack.wav", "/api/nothing"]
)
def test_a_request_without_the_token_is_refused(
    steady: Client, path: str, given: str | None
) -> None:
    assert steady.get(path, Authorization=given).status == 401


def test_a_change_without_the_token_is_refused(steady: Client) -> None:
    assert steady.post("/api/save", Authorization=None).status == 401


@pytest.mark.parametrize(
    "protocols",
    [
        [],
        ["bench.v1"],
        [f"bearer.{TOKEN}"],
        ["bench.v1", "bearer.nonsense"],
        ["bench.v1", f"bearer.{TOKEN}", "bearer.x"],
    ],
)
def test_a_websocket_without_the_token_is_refused(steady: Client, protocols: list[str]) -> None:
    with pytest.raises(InvalidStatus) as refused:
        steady.listen(protocols=protocols)
    assert refused.value.response.status_code == 401


def test_the_websocket_with_the_token_is_answered_by_the_protocol_alone(steady: Client) -> None:
    with steady.listen() as socket:
        assert socket.subprotocol == "bench.v1"


def test_the_token_is_no_cookie_and_not_in_the_address(steady: Client) -> None:
    """Cookies go to every port of a machine: RFC 6265, 8.5."""
    assert (
        steady.get(f"/api/prop?t={TOKEN}", Authorization=None, Cookie=f"token={TOKEN}").status
        == 401
    )
    assert "set-cookie" not in steady.get("/").headers


def test_the_token_has_256_bits_and_is_new_with_every_run(
    tmp_path: Path, small_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fxseq.bench import running

    text: list[str] = []

    async def serve(app: object, listener: object, address: str, on_ready: object) -> None:
        text.append(address.partition("/#t=")[2])

    monkeypatch.setattr(running, "_serve", serve)
    with (
        ThreadPoolExecutor() as threads
    ):  # the thread of the tests may have an event loop already, that of a browser
        for _ in range(2):
            threads.submit(running.run_bench, small_file, 0, lambda address: None).result()
    assert text[0] != text[1]
    # 256 bits in base 64 without padding
    assert all(len(token) == 43 and re.fullmatch(r"[\w-]+", token) for token in text)


def test_the_browser_is_started_without_the_token(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every user of a machine can read what programs are started with."""
    from fxseq.bench import running

    opened: list[str] = []
    monkeypatch.setattr(running, "user_cache_path", lambda *_, **__: tmp_path)
    monkeypatch.setattr(running.webbrowser, "open", lambda address: opened.append(address) is None)
    assert running.open_page("http://127.0.0.1:1/#t=secret")
    [leader] = tmp_path.iterdir()
    assert opened == [leader.as_uri()] and "secret" not in opened[0]
    assert leader.stat().st_mode & 0o077 == 0
    assert "http://127.0.0.1:1/#t=secret" in leader.read_text()


# Checks 6 and 7: headers.

ASKED = [
    ("GET", "/", 200),
    ("GET", "/page/player.wasm", 200),
    ("GET", "/api/prop", 200),
    ("GET", "/page/none.js", 404),
    ("GET", "/api/none", 404),
    ("OPTIONS", "/api/prop", 405),
    ("PUT", "/api/prop", 405),
    ("GET", "/api/edit", 405),
    ("POST", "/", 405),
    ("POST", "/api/redo", 422),
]


@pytest.mark.parametrize(("method", "path", "status"), ASKED)
def test_every_answer_has_the_safe_headers(
    steady: Client, method: str, path: str, status: int
) -> None:
    answer = steady.ask(method, path, b"{}" if method == "POST" else None)
    assert answer.status == status
    assert not [
        name for name in answer.headers if name.startswith("access-control-") or name == "server"
    ]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert (
        answer.headers["cross-origin-resource-policy"]
        == answer.headers["cross-origin-opener-policy"]
        == "same-origin"
    )
    assert status < 400 or answer.json["faults"]


def test_a_refusal_has_the_safe_headers(steady: Client) -> None:
    answer = steady.get("/", Host="evil.test")
    assert (
        "default-src 'none'" in answer.headers["content-security-policy"]
        and "server" not in answer.headers
    )


def test_a_question_across_origins_gets_no_leave(steady: Client) -> None:
    answer = steady.ask(
        "OPTIONS",
        "/api/edit",
        Origin="http://evil.test",
        Access_Control_Request_Method="POST",
        Access_Control_Request_Headers="authorization,content-type",
    )
    assert answer.status >= 400
    assert not [name for name in answer.headers if name.startswith("access-control-")]


def test_the_policy_lets_nothing_in_but_the_page_itself(steady: Client) -> None:
    """Content Security Policy Level 3; `wasm-unsafe-eval` compiles the player, and no text."""
    rules = dict(
        rule.strip().split(" ", 1)
        for rule in steady.get("/").headers["content-security-policy"].split(";")
    )
    assert rules == {
        "default-src": "'none'",
        "script-src": "'self' 'wasm-unsafe-eval'",
        "style-src": "'self'",
        "img-src": "'self' data: blob:",
        "connect-src": "'self'",
        "worker-src": "'self'",
        "media-src": "'self' blob:",
        "base-uri": "'none'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }


def test_the_page_keeps_to_its_policy() -> None:
    """No script or style within the page, no address of elsewhere: what the policy would stop
    must not be there.
    """
    from fxseq.bench.files import PAGE

    text = (PAGE / "index.html").read_text(encoding="utf-8")
    assert not re.findall(r"\son\w+\s*=|style\s*=|<style|javascript:", text)
    assert not re.findall(r"<script(?![^>]*\bsrc=)", text)
    assert not re.findall(r"""(?:src|href)=["']?(?:https?:)?//""", text)


# Check 8: no path from outside.

TRAVERSALS = [
    "../__init__.py", "..%2f__init__.py", "%2e%2e/__init__.py", "%2e%2e%2f__init__.py",
    "..%5c__init__.py", "..\\__init__.py", "%2fetc%2fpasswd", "/etc/passwd", "//etc/passwd",
    "....//__init__.py", "%252e%252e%252fetc", "index.html%00.js", "%00", ".", "..", "", "CON",
    "nul.js", "C:index.html", "%5c%5chost%5cshare", "index.html/", "INDEX.HTML", "index.html%20",
    "index.html.",
]  # fmt: skip


@pytest.mark.parametrize("name", TRAVERSALS)
@pytest.mark.parametrize("folder", ["/page/", "/api/clips/"])
def test_a_path_from_outside_leads_nowhere(steady: Client, folder: str, name: str) -> None:
    assert steady.get(f"{folder}{name}").status in (400, 404, 405)


def test_a_link_out_of_the_page_is_not_followed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fxseq.bench import files

    (tmp_path / "page").mkdir()
    (tmp_path / "secret.js").write_text("secret")
    (tmp_path / "page" / "link.js").symlink_to(tmp_path / "secret.js")
    (tmp_path / "page" / "own.js").write_text("own")
    monkeypatch.setattr(files, "PAGE", tmp_path / "page")
    assert set(files.page_files()) == {"own.js", "player.wasm"}


def test_an_edit_cannot_make_the_bench_read_other_files(steady: Client) -> None:
    for path, value in (
        (["clips", "crack", "file"], "/etc/passwd"),
        (["picture"], {"width_mm": 1, "height_mm": 1, "image": "../x.png"}),
    ):
        answer = steady.edit(*path, value=value)
        assert answer.status == 422 and "does not belong to this prop" in answer.found


def test_a_picture_that_leads_out_of_the_folder_is_not_shown(small_file: Path, serve) -> None:
    (small_file.parent.parent / "secret.png").write_bytes(b"secret")
    text = small_file.read_text().replace(
        "[effects.flash]",
        '[picture]\nwidth_mm = 10\nheight_mm = 10\nimage = "../secret.png"\n\n[effects.flash]',
    )
    small_file.write_text(text)
    assert serve(small_file).get("/api/picture").status == 404


# Check 9: sizes and depths.


def test_a_large_body_is_refused_before_it_is_sent(steady: Client) -> None:
    assert steady.post("/api/edit", b"{}", Content_Length=str(2**20 + 1)).status == 413
    assert (
        steady.post(
            "/api/clips",
            b"x",
            Content_Type="application/octet-stream",
            X_Name="big",
            Content_Length=str(200 * 2**20),
        ).status
        == 413
    )


def test_a_large_body_of_unknown_length_is_refused(steady: Client) -> None:
    answer = steady.ask("POST", "/api/edit", iter([b" " * 2**16] * 20))
    assert answer.status == 413 and "too large" in answer.found


def test_a_large_recording_of_unknown_length_is_refused(steady: Client) -> None:
    pieces = iter([bytes(2**20)] * 66)
    try:
        answer = steady.ask(
            "POST", "/api/clips", pieces, Content_Type="application/octet-stream", X_Name="big"
        )
    except (BrokenPipeError, ConnectionResetError):
        return  # the bench hung up on us, which is as good
    assert answer.status == 413


def test_a_body_where_none_is_wanted_is_not_kept(steady: Client) -> None:
    assert steady.ask("GET", "/api/prop", b"x" * 2**16).status == 200


@pytest.mark.parametrize("depth", [13, 1000, 100_000])
def test_deep_json_is_refused(steady: Client, depth: int) -> None:
    body = b'{"path": ["title"], "value": ' + b"[" * depth + b"]" * depth + b"}"
    answer = steady.post("/api/edit", body)
    assert answer.status == 400 and "too many levels" in answer.found


MALFORMED = [
    b"",
    b"{",
    b"[]",
    b"null",
    b"7",
    b'"text"',
    b"{'path': 1}",
    b'{"a": NaN}',
    b'{"a": Infinity}',
    b'{"a": 1,}',
    b"\xff\xfe",
    b"\x00",
    b'{"a": "\xed\xa0\x80"}',
    b'{"a": "\\ud800"}',
    b"{}{}",
    b'{"a": ' + b"1" * 5000 + b"}",
]


@pytest.mark.parametrize("body", MALFORMED)
def test_malformed_json_is_refused(steady: Client, body: bytes) -> None:
    answer = steady.post("/api/edit", body)
    assert answer.status == 400 and "Traceback" not in answer.body.decode()


def test_a_long_message_ends_the_websocket(steady: Client) -> None:
    """1009, Message Too Big: RFC 6455, 7.4.1."""
    with steady.listen() as line:
        line.send("x" * 5000)
        with pytest.raises(ConnectionClosed) as closed:
            for _ in range(10):
                line.recv(timeout=LONGEST_S)
    assert closed.value.rcvd.code == 1009


def test_short_messages_and_bytes_on_the_websocket_are_ignored(small: Client) -> None:
    with small.listen() as line:
        line.send("hello")
        line.send(b"\x00\xff")
        small.edit("title", value="Other")
        assert json.loads(line.recv(timeout=LONGEST_S))["revision"] == 1
        assert json.loads(line.recv(timeout=LONGEST_S))["revision"] == 2


# Check 10: exact content type.


@pytest.mark.parametrize(
    "kind",
    [
        None,
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "application/json; charset=utf-8",
        "APPLICATION/JSON",
        "application/jsonp",
        "application/octet-stream",
    ],
)
def test_another_content_type_is_refused(steady: Client, kind: str | None) -> None:
    assert (
        steady.post("/api/edit", {"path": ["title"], "value": "x"}, Content_Type=kind).status == 415
    )


def test_recordings_come_as_bytes_alone(steady: Client) -> None:
    assert steady.post("/api/clips", b"{}", X_Name="x").status == 415


# Check 11 is the page's: text goes in as text.


def test_the_page_never_makes_markup_of_text() -> None:
    from fxseq.bench.files import PAGE

    for script in PAGE.glob("*.js"):
        words = re.findall(
            r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function",
            script.read_text(encoding="utf-8"),
        )
        assert not words, script.name


# Check 12: reading changes nothing; a push needs more.


def test_reading_changes_nothing(steady: Client) -> None:
    before = steady.get("/api/prop").body
    text = steady.file.read_bytes()
    for path in (
        "/",
        "/api/prop",
        "/api/table",
        "/api/numbers",
        "/api/listen",
        "/api/clips/crack.wav",
        "/api/picture",
        "/api/ports",
        "/api/export",
    ):
        steady.get(path)
    assert steady.get("/api/prop").body == before and steady.file.read_bytes() == text


@pytest.mark.parametrize(
    "act", ["edit", "undo", "redo", "save", "reload", "clips", "lamps", "board", "push", "prove"]
)
def test_what_changes_cannot_be_had_by_reading(steady: Client, act: str) -> None:
    assert steady.get(f"/api/{act}").status == 405


# Check 13: nothing malformed makes it stumble.


@settings(max_examples=60, deadline=None)
@given(target=st.binary(max_size=40), host=st.binary(max_size=40), origin=st.binary(max_size=40))
def test_malformed_bytes_get_a_refusal(
    steady: Client, target: bytes, host: bytes, origin: bytes
) -> None:
    clean = [re.sub(rb"[\r\n]", b"", part) for part in (target, host, origin)]
    answer = steady.raw(b"GET /%s HTTP/1.1\r\nHost: %s\r\nOrigin: %s\r\n\r\n" % tuple(clean))
    assert answer.startswith((b"HTTP/1.1 4", b"HTTP/1.0 4"))
    assert b"Traceback" not in answer


@settings(max_examples=60, deadline=None)
@given(name=st.text(alphabet="%0123456789abcdefABCDEFgzG./\\:", max_size=24))
def test_malformed_percent_encoding_leads_nowhere(steady: Client, name: str) -> None:
    for folder in ("/page/", "/api/clips/"):
        answer = steady.raw(
            f"GET {folder}{name} HTTP/1.1\r\nHost: {steady.host}\r\nAuthorization: Bearer"
            f" {TOKEN}\r\nConnection: close\r\n\r\n".encode()
        )
        assert answer.startswith(b"HTTP/1.1 4")


@settings(max_examples=60, deadline=None)
@given(
    value=st.recursive(
        st.none()
        | st.booleans()
        | st.integers()
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(max_size=8),
        lambda inner: st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=8), inner, max_size=3),
        max_leaves=6,
    ),
    path=st.lists(
        st.sampled_from(
            [
                "clips",
                "crack",
                "triggers",
                "flash",
                "effects",
                "sounds",
                0,
                1,
                "title",
                "board",
                "voices",
                "\x00",
                "a.b",
                "ä",
            ]
        ),
        min_size=1,
        max_size=6,
    ),
)
def test_any_edit_is_taken_or_refused_with_faults(
    steady: Client, path: list[str | int], value: object
) -> None:
    answer = steady.post("/api/edit", {"path": path, "value": value})
    assert answer.status == 200 or (answer.status in (400, 422) and answer.json["faults"])


def test_an_overlong_header_is_refused(steady: Client) -> None:
    assert steady.raw(b"GET / HTTP/1.1\r\nHost: " + b"a" * 100_000 + b"\r\n\r\n").startswith(
        b"HTTP/1.1 4"
    )


# Check 14: uvicorn trusts no proxy and does not say what it is.


def test_a_proxy_cannot_speak_for_anybody(steady: Client) -> None:
    answer = steady.get(
        "/",
        Host="evil.test",
        X_Forwarded_Host=steady.host,
        X_Forwarded_For="127.0.0.1",
        Forwarded=f"host={steady.host}",
    )
    assert answer.status == 421


def test_the_server_says_neither_what_it_is_nor_who_asked(small_file: Path) -> None:
    from fxseq.bench.desk import Desk
    from fxseq.bench.running import server_config
    from fxseq.bench.server import Bench
    from fxseq.bench.unsaved import Unsaved

    desk = Desk(small_file)
    config = server_config(
        Bench(desk, Unsaved(desk, small_file.parent), ASIDE), "127.0.0.1:1", TOKEN
    )
    assert (config.proxy_headers, config.server_header, config.access_log) == (False, False, False)


# Check 15 is this file; and a bug is no traceback on the page.


def test_a_bug_is_told_without_its_inside(
    steady: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    from fxseq.bench import server

    def broken(*_: object) -> None:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(server, "prop_view", broken)
    answer = steady.get("/api/prop")
    assert answer.status == 500 and b"inside" not in answer.body and b"Traceback" not in answer.body
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_half_a_request_holds_nobody_up(steady: Client) -> None:
    with socket.create_connection(("127.0.0.1", steady.port)) as slow:
        slow.sendall(b"POST /api/edit HTTP/1.1\r\nHost: ")
        assert steady.get("/api/prop").status == 200


def test_the_client_of_these_tests_is_let_in(steady: Client) -> None:
    """So that a refusal above is for its reason alone."""
    assert steady.get("/api/prop").status == 200
    assert steady.edit("title", value="Other").status == 200


def test_a_client_that_leaves_in_mid_upload_is_no_bug(
    steady: Client, caplog: pytest.LogCaptureFixture
) -> None:
    begun = (
        f"POST /api/clips HTTP/1.1\r\nHost: {steady.host}\r\nAuthorization: Bearer {TOKEN}\r\n"
        f"Origin: http://{steady.host}\r\nContent-Type: application/octet-stream\r\n"
        "X-Name: half\r\nContent-Length: 1000\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", steady.port), timeout=LONGEST_S) as line:
        line.sendall(begun.encode() + bytes(500))
    assert steady.get("/api/prop").status == 200
    time.sleep(0.3)
    assert not caplog.records


def test_a_message_that_is_no_text_ends_the_websocket_without_a_word(
    steady: Client, caplog: pytest.LogCaptureFixture
) -> None:
    with steady.listen() as line:
        line.send(b"\xff\xfe", text=True)
        with pytest.raises(ConnectionClosed):
            while True:
                line.recv(timeout=LONGEST_S)
    assert steady.get("/api/prop").status == 200
    assert not caplog.records
