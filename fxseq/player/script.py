"""Press scripts: what a hand does, in words a maker types, as press events.

    tap flare @0.5, hold flare @2..5, set ring storm @4

`tap NAME @T` presses for 60 ms; `hold NAME @A..B` presses from A to B; `press NAME @T` and `release NAME @T` are its halves;
`set SELECTOR POSITION @T` turns a selector, `set volume P @T` sets the volume in percent; `end @T` lets it run on to T. Times are
seconds. Items are parted by commas, semicolons or line ends; what follows `#` on a line is a remark. NAME is an input, or a trigger,
which stands for its input. An input is let go before it is pressed again.
"""
import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from fxseq.player.presses import Press, PressKind
from fxseq.sequence import Fault, SequenceError, did_you_mean
from fxseq.table import InputKind, Mode, Names, Table, TriggerRecord

TAP_S = 0.06
RUN_OUT_S = 2.0
LONGEST_S = 1800.0
"""Half an hour: sound and physics of a run are kept in memory as a whole, about 1 MB a second."""

_ITEM = re.compile(r"(?P<words>[a-z0-9_ \t]+?)\s*@\s*(?P<start>\d+(?:\.\d*)?|\.\d+)(?:\s*\.\.\s*(?P<end>\d+(?:\.\d*)?|\.\d+))?", re.ASCII)
_FORMS = "tap NAME @T, hold NAME @A..B, press NAME @T, release NAME @T, set SELECTOR POSITION @T, set volume PERCENT @T, end @T"


@dataclass(frozen=True)
class Script:
    """Press events in frames, and the frame at which the run ends."""

    presses: list[Press]
    until_frame: int


def parse_script(text: str, table: Table, names: Names, where: str = "press script") -> Script:
    """The events of a press script. Raises SequenceError with every fault of it."""
    reader = _ScriptReader(table, names, where)
    for item in (part.strip() for line in text.splitlines() for part in re.split("[,;]", line.split("#")[0])):
        if item:
            reader.read(item)
    reader.check_holds()
    if reader.faults:
        raise SequenceError(*reader.faults)
    until_frame = reader.frame(max(reader.end_s, reader.last_s + RUN_OUT_S), math.ceil)
    return Script(sorted(reader.presses, key=lambda press: press.frame), until_frame)


class _ScriptReader:
    def __init__(self, table: Table, names: Names, where: str) -> None:
        self._table, self._names, self._where = table, names, where
        self.presses: list[Press] = []
        self.faults: list[Fault] = []
        self.last_s = self.end_s = 0.0
        self._holds: list[tuple[int, float, float, str]] = []

    def read(self, item: str) -> None:
        match = _ITEM.fullmatch(item)
        words = match["words"].split() if match else []
        if match is None or not self._known(words, match["end"] is not None):
            self._fault(item, "is not understood", _FORMS)
            return
        start_s, end_s = float(match["start"]), float(match["end"] or match["start"])
        if end_s < start_s or end_s > LONGEST_S:
            what = "ends before it starts" if end_s < start_s else "is later than half an hour"
            self._fault(item, what, f"0 to {LONGEST_S:g} s, start before end")
            return
        self._add(item, words, start_s, end_s)

    @staticmethod
    def _known(words: list[str], is_span: bool) -> bool:
        forms = {("tap", 2, False), ("hold", 2, True), ("press", 2, False), ("release", 2, False), ("set", 3, False), ("end", 1, False)}
        return bool(words) and (words[0], len(words), is_span) in forms

    def _add(self, item: str, words: list[str], start_s: float, end_s: float) -> None:
        if words[0] == "end":
            self.end_s = max(self.end_s, start_s)
        elif words[0] == "set":
            self._set(item, words[1], words[2], start_s)
        else:
            self._press(item, words[0], words[1], start_s, start_s + TAP_S if words[0] == "tap" else end_s)

    def _press(self, item: str, word: str, name: str, start_s: float, end_s: float) -> None:
        index = self._input(item, name)
        if index is None:
            return
        # A press counts from the frame it falls into, a release from the frame that starts after it: no hold gets shorter.
        if word != "release":
            self._event(start_s, PressKind.PRESS, index)
        if word != "press":
            self._event(end_s, PressKind.RELEASE, index, math.ceil)
        if word in ("tap", "hold"):
            self._holds.append((index, start_s, end_s, item))

    def check_holds(self) -> None:
        """Two triggers may stand for one input: a second press while it is down would do nothing, and its release would end the first."""
        down: dict[int, tuple[float, str]] = {}
        for index, start_s, end_s, item in sorted(self._holds):
            until_s, by = down.get(index, (0.0, ""))
            if start_s < until_s:
                self._fault(item, f"input '{self._names.inputs[index]}' is still down from '{by}'", f"from {until_s:g} s on")
            down[index] = max((until_s, by), (end_s, item))

    def _set(self, item: str, name: str, value: str, at_s: float) -> None:
        if name == "volume":
            if value.isdigit() and int(value) <= 100:
                self._event(at_s, PressKind.VOLUME, 0, value=round(int(value) * 2.56))
            else:
                self._fault(item, f"volume is '{value}'", "a whole number from 0 to 100 percent")
            return
        if name not in self._names.selectors:
            known = self._names.selectors
            self._fault(item, f"no selector '{name}'", self._list(known), did_you_mean(name, (*known, "volume")))
            return
        index = self._names.selectors.index(name)
        positions = self._names.positions[index]
        if value in positions:
            self._event(at_s, PressKind.SELECT, index, value=positions.index(value))
        else:
            self._fault(item, f"selector '{name}' has no position '{value}'", self._list(positions), did_you_mean(value, positions))

    def _event(self, at_s: float, kind: PressKind, index: int, to_whole: Callable[[float], int] = math.floor, value: int = 0) -> None:
        self.last_s = max(self.last_s, at_s)
        self.presses.append(Press(self.frame(at_s, to_whole), kind, index, value))

    def frame(self, at_s: float, to_whole: Callable[[float], int]) -> int:
        """Frame of a time. One that is a whole frame must not be moved by the last bit of a product."""
        return to_whole(round(at_s * self._table.frame_rate_hz, 6))

    def _input(self, item: str, name: str) -> int | None:
        if name in self._names.inputs:
            return self._names.inputs.index(name)
        if name in self._names.triggers:
            source = self._table.triggers[self._names.triggers.index(name)].input
            if source is None:
                self._fault(item, f"trigger '{name}' is always on", "a trigger with an input")
            return source
        known = (*self._names.inputs, *(name for name, record in zip(self._names.triggers, self._table.triggers, strict=True)
                                        if record.input is not None))
        self._fault(item, f"no input or trigger '{name}'", self._list(tuple(dict.fromkeys(known))), did_you_mean(name, known))
        return None

    @staticmethod
    def _list(known: tuple[str, ...]) -> str:
        return ", ".join(known) or "none, the sequence has none"

    def _fault(self, item: str, what: str, allowed: str, remedy: str = "") -> None:
        self.faults.append(Fault(f"{self._where}: '{item}'", what, allowed, remedy))


def default_script(table: Table, names: Names) -> str:
    """A script that shows every trigger with a button: its selectors put right, a tap, and a hold where holding matters."""
    items: list[str] = []
    positions = [selector.start for selector in table.selectors]
    at_s, done = 0.5, set()
    for trigger in table.triggers:
        key = (trigger.input, trigger.conditions)
        if trigger.input is None or table.inputs[trigger.input].kind != InputKind.BUTTON or key in done:
            continue
        done.add(key)
        items += _turns(trigger, positions, names, at_s - 0.2)
        name = names.inputs[trigger.input]
        items.append(f"tap {name} @{at_s:g}")
        alike = [other for other in table.triggers if (other.input, other.conditions) == key]
        hold_s = max(other.hold for other in alike) / table.frame_rate_hz
        if hold_s or any(other.mode in (Mode.REPEAT, Mode.WHILE_HELD) for other in alike):
            end_s = round(at_s + 3 + hold_s, 2)
            items.append(f"hold {name} @{at_s + 1:g}..{end_s:g}")
            at_s = end_s
        at_s = round(at_s + 1.5, 2)
    return ", ".join(items) or "end @3"


def _turns(trigger: TriggerRecord, positions: list[int], names: Names, at_s: float) -> list[str]:
    """Selector moves that a trigger needs; `positions` is kept up to date."""
    items = []
    for selector, mask in trigger.conditions:
        if not mask >> positions[selector] & 1:
            positions[selector] = (mask & -mask).bit_length() - 1
            items.append(f"set {names.selectors[selector]} {names.positions[selector][positions[selector]]} @{at_s:g}")
    return items
