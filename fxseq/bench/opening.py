"""The page opened in the user's browser, without the token among the words that a program is started with, which every user can read."""
import atexit
import html
import secrets
import webbrowser
from pathlib import Path

from platformdirs import user_cache_path

from fxseq.sequence import FxError, write_whole


def open_page(address: str) -> bool:
    """Open the address by a file that only this user may read and that leads there; whether a browser took it."""
    try:
        leader = _leader(address)
    except (OSError, FxError):
        return False
    atexit.register(leader.unlink, missing_ok=True)
    return webbrowser.open(leader.as_uri())


def _leader(address: str) -> Path:
    folder = user_cache_path("fxseq", ensure_exists=True)
    leader = folder / f"bench_{secrets.token_hex(8)}.html"
    leader.touch(0o600)
    to = html.escape(address, quote=True)
    text = f'<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="0; url={to}"><title>fxseq</title><a href="{to}">bench</a>\n'
    # A file that exists keeps its permissions.
    write_whole(leader, text.encode())
    return leader
