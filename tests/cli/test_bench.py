"""`fxseq bench`: prints its address, serves until Ctrl-C, says what is wrong in one message."""

import socket
import urllib.request
from pathlib import Path


def test_it_prints_an_address_that_works_and_ends_with_ctrl_c(lamp: Path, go_on) -> None:
    with go_on("bench", str(lamp), "--no-browser") as bench:
        address = bench.stdout.readline().strip()
        page, _, token = address.partition("/#t=")
        assert page.startswith("http://127.0.0.1:") and len(token) == 43
        with urllib.request.urlopen(page, timeout=60) as answer:
            assert answer.status == 200
    assert "Ctrl-C" in bench.remarks and bench.remarks.rstrip().endswith("stopped")
    assert token not in bench.remarks


def test_without_a_file_it_serves_the_page_on_which_a_prop_is_begun(here: Path, go_on) -> None:
    with go_on("bench", "--no-browser") as bench:
        page = bench.stdout.readline().partition("/#t=")[0]
        with urllib.request.urlopen(page, timeout=60) as answer:
            assert b"/page/begin.js" in answer.read()


def test_a_port_that_is_taken_is_told(lamp: Path, process) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        text = process("bench", str(lamp), "--no-browser", "--tcp", str(port))
    assert text.status == 1 and f"port {port}" in text.err and "Traceback" not in text.err


def test_a_file_with_faults_is_not_opened(here: Path, process) -> None:
    Path("bad.toml").write_text("format = 1\n")
    text = process("bench", "bad.toml", "--no-browser")
    assert text.status == 1 and text.out == "" and "title is missing" in text.err
