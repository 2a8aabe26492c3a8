"""What takes long for the page, in a process of its own, which keeps no answer waiting and can be
cancelled: orders with the prop as it stands go in, lines of JSON come out, of how far it is and at
last of what was found.
"""

import base64
import json
import math
import os
import queue
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import asdict, astuple
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fxseq.bench.body import BUG, Refused
from fxseq.bench.desk import ClipShelf, Version
from fxseq.bench.labels import choice_label
from fxseq.runs import make_prop, perform, prop_of
from fxseq.sequence import FxError, loads
from fxseq.sequence import model as m

if TYPE_CHECKING:
    from fxseq.bench.numbers import Kept

Values = dict[str, Any]
Tell = Callable[[float, str], None]
"""Called with the share that is done, 0..1, and with what is being done."""
LEAST_APART_S = 0.1
_AFTER_THE_PAGE = 5
"""How much less of a busy processor it gets than the page and its answers: a third, on Linux."""


class Abandoned(Exception):
    """What was being found is no longer wanted."""


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


class Figures:
    """Key numbers of one version of a prop after the other: what does not change from one to the
    next is made once.
    """

    def __init__(self) -> None:
        self._shelf = ClipShelf()
        self._kept: Kept = {}

    def version(self, path: Path, sequence: m.Sequence, order: Values) -> Version:
        text = order["text"]
        return Version(order["revision"], text, prop_of(path, text, sequence, self._shelf.prepare))

    def numbers(self, path: Path, sequence: m.Sequence, order: Values, tell: Tell) -> Values:
        """What a run of the press script comes to. order: revision."""
        from fxseq.bench.numbers import key_numbers

        return key_numbers(self.version(path, sequence, order))

    def rates(self, path: Path, sequence: m.Sequence, order: Values, tell: Tell) -> Values:
        """How fast triggers may repeat. order: revision, and rates_per_s that are tried."""
        from fxseq.bench.numbers import rates

        prop = self.version(path, sequence, order).prop
        found = rates(prop, order["rates_per_s"], self._kept, tell)
        return {"rates": [asdict(rate) for rate in found]}


_FIGURES = Figures()
WORKS: dict[str, Callable[[Path, m.Sequence, Values, Tell], Values]] = {
    "fit": fit_to_board,
    "for_speaker": loud_on_speaker,
    "lights": moving_lights,
    "numbers": _FIGURES.numbers,
    "rates": _FIGURES.rates,
}
_Orders = queue.SimpleQueue[Values | None]


def main() -> None:
    """Carry out orders from stdin, one to a line: {what, path, text, and more by what it is}, or
    {} for nothing; a later one ends what tells how far it is. Lines on stdout: {"done", "words"},
    then for each order one of {"result"}, {"faults", "status"} and {"abandoned"}.
    """
    # Ctrl+C in the terminal is for the bench, which then ends this one.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):  # not on Windows
        os.nice(_AFTER_THE_PAGE)
    orders: _Orders = queue.SimpleQueue()
    threading.Thread(target=_read, args=(orders,), daemon=True).start()
    while (order := orders.get()) is not None:
        _say(_answer(order, orders))


def _read(orders: _Orders) -> None:
    for line in sys.stdin:
        orders.put(json.loads(line))
    orders.put(None)


def _say(line: Values) -> None:
    sys.stdout.write(json.dumps(line, allow_nan=False) + "\n")
    sys.stdout.flush()


def _answer(order: Values, orders: _Orders) -> Values:
    told_s = 0.0

    def tell(done: float, words: str) -> None:
        nonlocal told_s
        if not orders.empty():
            raise Abandoned
        now_s = time.monotonic()
        if now_s - told_s >= LEAST_APART_S:
            told_s = now_s
            _say({"done": done, "words": words})

    try:
        if not order:
            raise Abandoned
        path = Path(order["path"])
        sequence = loads(order["text"], str(path))
        return {"result": WORKS[order["what"]](path, sequence, order, tell)}
    except Abandoned:
        return {"abandoned": True}
    except FxError as error:
        status = error.status if isinstance(error, Refused) else 422
        return {"status": status, "faults": [astuple(fault) for fault in error.faults]}
    except Exception:
        traceback.print_exc()
        return {"status": 500, "faults": [astuple(BUG)]}


if __name__ == "__main__":
    main()
