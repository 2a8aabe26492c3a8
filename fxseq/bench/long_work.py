"""What takes long for the page, in a process of its own, so that it can be cancelled: the prop as
it stands goes in, lines of JSON come out, of how far it is and at last of what was found.
"""

import base64
import json
import math
import sys
import time
from collections.abc import Callable
from dataclasses import astuple
from pathlib import Path
from typing import Any

from fxseq.bench.body import Refused
from fxseq.bench.labels import choice_label
from fxseq.runs import make_prop, perform
from fxseq.sequence import FxError, loads
from fxseq.sequence import model as m

Values = dict[str, Any]
Tell = Callable[[float, str], None]
"""Called with the share that is done, 0..1, and with what is being done."""
LEAST_APART_S = 0.1


def fit_to_board(path: Path, sequence: m.Sequence, order: Values, tell: Tell) -> Values:
    """What to store of each clip so that all fit and least is lost: as `fxseq fit` finds it.

    clips: of each its name, how it is stored, bytes, how much softer than the clip its loss
    sounds [dB] (None: no loss is heard), and `fitted` for the file (None where it needs none).
    """
    from fxseq.advice import as_meant, best_that_fits, fit

    prop = as_meant(path, sequence)
    names = list(prop.clips)

    def told(name: str, done: int, total: int) -> None:
        tell((names.index(name) + done / max(total, 1)) / len(names), name)

    room = sequence.board.flash_for_table_bytes
    reference = perform(prop, prop.script()[0])
    found = fit(reference, tuple(sequence.board.codings), told)
    picked, outcome = best_that_fits(found, room)
    clips = []
    for name, each in picked.items():
        fitted = found.settings(each)
        clips.append(
            {
                "name": name,
                "rate_hz": each.rate_hz,
                "stored_as": choice_label(each.coding),
                "end_ms": each.end_ms,
                "bytes": each.bytes,
                "softer_db": _known(found.clip_below_sound_db(each)),
                "fitted": fitted and fitted.model_dump(exclude_defaults=True),
            }
        )
    return {
        "clips": clips,
        "table_bytes": outcome.table_bytes,
        "room_bytes": room,
        "softer_db": _known(outcome.below_sound_db),
    }


def _known(softer_db: float) -> float | None:
    return softer_db if math.isfinite(softer_db) else None


def loud_on_speaker(path: Path, sequence: m.Sequence, order: Values, tell: Tell) -> Values:
    """High-pass, gain and limiter with which clips are as loud as the speaker can play them.

    order: names. clips: of each its name, and `found` as `Recommendation.as_dict` has it with
    its text, or None for silence.
    """
    from fxseq.advice import recommend, rig_of

    names = order["names"]
    found = recommend(
        names, rig_of(path, sequence), lambda name, done: tell(done / len(names), name)
    )
    return {
        "clips": [
            {"name": name, "found": each and {**each.as_dict(), "text": each.text}}
            for name, each in found.items()
        ]
    }


def moving_lights(path: Path, sequence: m.Sequence, order: Values, tell: Tell) -> Values:
    """The animated picture of presses, as a file in base64. order: what was pressed on the page
    (`run_files`), or nothing for the press script of the file.
    """
    from fxseq.bench.run_files import lights_gif, script_of

    prop = make_prop(path, sequence)
    pressed = order.get("pressed")
    script = script_of(prop.compiled.table, pressed) if pressed else prop.script()[0]
    data = lights_gif(perform(prop, script), lambda share: tell(share, ""))
    return {"data": base64.b64encode(data).decode()}


WORKS: dict[str, Callable[[Path, m.Sequence, Values, Tell], Values]] = {
    "fit": fit_to_board,
    "for_speaker": loud_on_speaker,
    "lights": moving_lights,
}


def main() -> None:
    """Carry out the order on stdin: {what, path, text, and more by what it is}. Lines on stdout:
    {"done", "words"}, then {"result"} or {"faults", "status"}.
    """
    order = json.load(sys.stdin)

    told_s = 0.0

    def say(line: Values) -> None:
        sys.stdout.write(json.dumps(line, allow_nan=False) + "\n")
        sys.stdout.flush()

    def tell(done: float, words: str) -> None:
        nonlocal told_s
        now_s = time.monotonic()
        if now_s - told_s >= LEAST_APART_S:
            told_s = now_s
            say({"done": done, "words": words})

    path = Path(order["path"])
    try:
        sequence = loads(order["text"], str(path))
        say({"result": WORKS[order["what"]](path, sequence, order, tell)})
    except FxError as error:
        status = error.status if isinstance(error, Refused) else 422
        say({"status": status, "faults": [astuple(fault) for fault in error.faults]})


if __name__ == "__main__":
    main()
