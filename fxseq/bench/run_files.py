"""What is kept of a run, the file's own or one that was just pressed: sound, figure and moving
lights, as `fxseq preview` writes them.
"""

from collections.abc import Callable
from typing import Any

from fxseq.bench.body import Refused
from fxseq.bench.desk import Version
from fxseq.player import Press, PressKind, Script
from fxseq.plots import animation_bytes, picture_bytes, preview_figure
from fxseq.runs import Performance, board_wav, heard_wav, perform
from fxseq.sequence import Fault
from fxseq.table import Table

LONGEST_S = 300.0
"""Longest script that is made of what was pressed on the page."""
_FULL_VOLUME = 256
_LONGEST_HELD = 65535


def _heard(run: Performance) -> bytes:
    sound = heard_wav(run)
    if sound is None:
        raise Refused(
            404,
            Fault(
                "heard.wav",
                "amplifier, speaker or supply is not described",
                remedy="Describe them in the prop file.",
            ),
        )
    return sound


FILES: dict[str, tuple[str, Callable[[Performance], bytes]]] = {
    "board.wav": ("audio/wav", board_wav),
    "heard.wav": ("audio/wav", _heard),
    "figure.png": ("image/png", lambda run: picture_bytes(preview_figure(run, "light"), "png")),
}
"""What there is of a run at once: kind of content, and what makes it."""
LIGHTS = "lights.gif"
"""Moving lights take longer, and are drawn in a process of their own (`long_work`)."""


def run_file(version: Version, script: Script, name: str) -> bytes:
    """One of FILES, of these presses. Raises FxError."""
    return FILES[name][1](perform(version.prop, script))


def lights_gif(run: Performance, told: Callable[[float], None]) -> bytes:
    """The moving lights. told: called with the share that is drawn. Raises Refused."""
    if not run.prop.sequence.groups:
        raise Refused(404, Fault(LIGHTS, "the prop has no lamps"))
    return animation_bytes(run, "light", told=told)


def pressed_script(version: Version, body: dict[str, Any]) -> Script:
    """What was pressed on the page since power-up: {revision, until_frame, presses: [[frame,
    kind, index, value], ...]}. Raises Refused.
    """
    script = script_of(version.prop.compiled.table, body)
    if body.get("revision") != version.revision:
        raise Refused(
            409, Fault("what was pressed", "the prop has been changed since", remedy="Press again.")
        )
    return script


def script_of(table: Table, body: dict[str, Any]) -> Script:
    """The presses of a page as a script. Raises Refused."""
    until = body.get("until_frame")
    presses = body.get("presses")
    if not _is_whole(until) or until < 1 or not isinstance(presses, list):
        raise Refused(
            400, Fault("request", "this is not a run", "revision, until_frame from 1, and presses")
        )
    if until > LONGEST_S * table.frame_rate_hz:
        long = f"{until / table.frame_rate_hz:.0f} s have gone by since power-up"
        raise Refused(
            422,
            Fault(
                "what was pressed",
                long,
                f"up to {LONGEST_S:g} s",
                "Restart the prop, press, then save.",
            ),
        )
    return Script([_press(item, until, table) for item in presses], until)


def _press(item: Any, until_frame: int, table: Table) -> Press:
    if (
        not isinstance(item, list)
        or len(item) != 4
        or not all(map(_is_whole, item))
        or not _is_known(*item[1:], table)
        or item[0] >= until_frame
    ):
        raise Refused(
            400,
            Fault(
                "request",
                "one of its presses is not a press",
                "[frame, kind, index, value] of what the prop has",
            ),
        )
    return Press(item[0], PressKind(item[1]), item[2], item[3])


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _is_known(kind: int, index: int, value: int, table: Table) -> bool:
    """Whether the table has what is pressed or turned."""
    if kind == PressKind.SELECT:
        return index < len(table.selectors) and value < table.selectors[index].positions
    if kind == PressKind.VOLUME:
        return index == 0 and value <= _FULL_VOLUME
    if kind == PressKind.HELD:
        return index < len(table.inputs) and 1 <= value <= _LONGEST_HELD
    return kind in (PressKind.PRESS, PressKind.RELEASE) and index < len(table.inputs) and value == 0
