"""Press scripts: what a hand does, in words a maker types, as press events.

    tap flare @0.5, hold flare @2..5, set ring storm @4

`tap NAME @T` presses for 60 ms; `hold NAME @A..B` presses from A to B; `press NAME @T` and `release
NAME @T` are its halves; `set SELECTOR POSITION @T` turns a selector, `set volume P @T` sets the
volume in percent; `end @T` lets it run on to T. Times are seconds. Items are parted by commas,
semicolons or line ends; what follows `#` on a line is a remark. NAME is an input, or a trigger,
which stands for its input. An input is let go before it is pressed again.
"""

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from fxseq.player.events import Press, PressKind
from fxseq.sequence import Fault, SequenceError, did_you_mean
from fxseq.table import InputKind, Mode, Names, Stay, Table, TriggerRecord

TAP_S = 0.06
RUN_OUT_S = 2.0
LONGEST_S = 1800.0
"""Half an hour: sound and physics of a run are kept in memory as a whole, about 1 MB a second."""

_ITEM = re.compile(
    r"(?P<words>[a-z0-9_"
    r" \t]+?)\s*@\s*(?P<start>\d+(?:\.\d*)?|\.\d+)(?:\s*\.\.\s*(?P<end>\d+(?:\.\d*)?|\.\d+))?",
    re.ASCII,
)
_FORMS = (
    "tap NAME @T, hold NAME @A..B, press NAME @T, release NAME @T, set SELECTOR POSITION @T, set"
    " volume PERCENT @T, end @T"
)


@dataclass(frozen=True)
class Script:
    """Press events in frames, and the frame at which the run ends."""

    presses: list[Press]
    until_frame: int


@dataclass(frozen=True)
class Item:
    """One item of a press script, such as `hold lever @2..5`. at: where in the script it begins."""

    text: str
    at: int

    @property
    def said(self) -> tuple[list[str], float, float | None] | None:
        """Its words, when it begins and, where it says so, when it ends [s]; None where it is not
        understood.
        """
        match = _ITEM.fullmatch(self.text)
        if match is None:
            return None
        end_s = None
        if match["end"]:
            end_s = float(match["end"])
        return match["words"].split(), float(match["start"]), end_s


def script_items(text: str) -> Iterator[Item]:
    """All items of a press script, remarks left out."""
    begin = 0
    for line in text.splitlines(keepends=True):
        for piece in re.finditer(r"[^,;]*[^,;\s]", line.split("#")[0]):
            item = piece[0].lstrip()
            yield Item(item, begin + piece.end() - len(item))
        begin += len(line)


def parse_script(text: str, table: Table, names: Names, where: str = "press script") -> Script:
    """The events of a press script. Raises SequenceError with every fault of it."""
    reader = _ScriptReader(table, names, where)
    for item in script_items(text):
        reader.read(item)
    reader.check_holds()
    if reader.faults:
        raise SequenceError(*reader.faults)
    until_frame = reader.frame(max(reader.end_s, reader.last_s + RUN_OUT_S), math.ceil)
    return Script(sorted(reader.presses, key=lambda press: press.frame), until_frame)


class _ScriptReader:
    def __init__(self, table: Table, names: Names, where: str) -> None:
        self._table = table
        self._names = names
        self._where = where
        self.presses: list[Press] = []
        self.faults: list[Fault] = []
        self.last_s = self.end_s = 0.0
        self._holds: list[tuple[int, float, float, str]] = []

    def read(self, item: Item) -> None:
        said = item.said
        if said is None or not self._known(said[0], said[2] is not None):
            self._fault(item.text, "is not understood", _FORMS)
            return
        words, start_s, stated_s = said
        end_s = start_s if stated_s is None else stated_s
        if end_s < start_s or end_s > LONGEST_S:
            what = "ends before it starts" if end_s < start_s else "is later than half an hour"
            self._fault(item.text, what, f"0 to {LONGEST_S:g} s, start before end")
            return
        self._add(item.text, words, start_s, end_s)

    @staticmethod
    def _known(words: list[str], is_span: bool) -> bool:
        forms = {
            ("tap", 2, False),
            ("hold", 2, True),
            ("press", 2, False),
            ("release", 2, False),
            ("set", 3, False),
            ("end", 1, False),
        }
        return bool(words) and (words[0], len(words), is_span) in forms

    def _add(self, item: str, words: list[str], start_s: float, end_s: float) -> None:
        if words[0] == "end":
            self.end_s = max(self.end_s, start_s)
        elif words[0] == "set":
            self._set(item, words[1], words[2], start_s)
        else:
            self._press(
                item, words[0], words[1], start_s, start_s + TAP_S if words[0] == "tap" else end_s
            )

    def _press(self, item: str, word: str, name: str, start_s: float, end_s: float) -> None:
        index = self._input(item, name)
        if index is None:
            return
        # A press counts from the frame it falls into, a release from the frame that starts after
        # it: no hold gets shorter.
        if word != "release":
            self._event(start_s, PressKind.PRESS, index)
        if word != "press":
            self._event(end_s, PressKind.RELEASE, index, math.ceil)
        if word in ("tap", "hold"):
            self._holds.append((index, start_s, end_s, item))

    def check_holds(self) -> None:
        """Two triggers may stand for one input: a second press while it is down would do
        nothing, and its release would end the first.
        """
        down: dict[int, tuple[float, str]] = {}
        for index, start_s, end_s, item in sorted(self._holds):
            until_s, by = down.get(index, (0.0, ""))
            if start_s < until_s:
                self._fault(
                    item,
                    f"input '{self._names.inputs[index]}' is still down from '{by}'",
                    f"from {until_s:g} s on",
                )
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
            self._fault(
                item,
                f"no selector '{name}'",
                self._list(known),
                did_you_mean(name, (*known, "volume")),
            )
            return
        index = self._names.selectors.index(name)
        positions = self._names.positions[index]
        if value in positions:
            self._event(at_s, PressKind.SELECT, index, value=positions.index(value))
        else:
            self._fault(
                item,
                f"selector '{name}' has no position '{value}'",
                self._list(positions),
                did_you_mean(value, positions),
            )

    def _event(
        self,
        at_s: float,
        kind: PressKind,
        index: int,
        to_whole: Callable[[float], int] = math.floor,
        value: int = 0,
    ) -> None:
        self.last_s = max(self.last_s, at_s)
        self.presses.append(Press(self.frame(at_s, to_whole), kind, index, value))

    def frame(self, at_s: float, to_whole: Callable[[float], int]) -> int:
        """Frame of a time. One that is a whole frame must not be moved by the last bit of a
        product.
        """
        return to_whole(round(at_s * self._table.frame_rate_hz, 6))

    def _input(self, item: str, name: str) -> int | None:
        if name in self._names.inputs:
            return self._names.inputs.index(name)
        if name in self._names.triggers:
            source = self._table.triggers[self._names.triggers.index(name)].input
            if source is None:
                self._fault(item, f"trigger '{name}' is always on", "a trigger with an input")
            return source
        known = (
            *self._names.inputs,
            *(
                name
                for name, record in zip(self._names.triggers, self._table.triggers, strict=True)
                if record.input is not None
            ),
        )
        self._fault(
            item,
            f"no input or trigger '{name}'",
            self._list(tuple(dict.fromkeys(known))),
            did_you_mean(name, known),
        )
        return None

    @staticmethod
    def _list(known: tuple[str, ...]) -> str:
        return ", ".join(known) or "none, the prop file has none"

    def _fault(self, item: str, what: str, allowed: str, remedy: str = "") -> None:
        self.faults.append(Fault(f"{self._where}: '{item}'", what, allowed, remedy))


def default_script(table: Table, names: Names) -> str:
    """A script that shows every trigger with a button, and every one that a selector switches,
    from its begin to its end.
    """
    maker = _ScriptMaker(table, names)
    for trigger in table.triggers:
        if trigger.input is not None and table.inputs[trigger.input].kind == InputKind.BUTTON:
            maker.press(trigger)
    for trigger in table.triggers:
        if trigger.mode == Mode.ALWAYS and trigger.conditions:
            maker.turn_on_and_off(trigger)
    return ", ".join(maker.items) or "end @3"


class _ScriptMaker:
    """Items of a script, one after the other; `positions` of the selectors are kept up to date."""

    def __init__(self, table: Table, names: Names) -> None:
        self._table = table
        self._names = names
        self._positions = [selector.start for selector in table.selectors]
        self._done: set[tuple[int | None, tuple[tuple[int, int], ...]]] = set()
        self._at_s = 0.5
        self.items: list[str] = []

    def press(self, trigger: TriggerRecord) -> None:
        """A tap, then a hold where holding matters, else a second tap where that ends what the
        first has begun.
        """
        key = trigger.input, trigger.conditions
        if key in self._done or trigger.input is None:
            return
        self._done.add(key)
        alike = [other for other in self._table.triggers if (other.input, other.conditions) == key]
        begin_s = max(map(self._begin_s, alike))
        hold_s = max(map(self._hold_s, alike))
        switched = [other for other in alike if other.mode == Mode.ON_OFF]
        name = self._names.inputs[trigger.input]
        self._turn(trigger, self._at_s - 0.2)
        self._add(f"tap {name} @{self._at_s:g}", 1 + (begin_s if switched else 0))
        if hold_s or any(other.mode in (Mode.REPEAT, Mode.WHILE_HELD) for other in alike):
            self._hold(name, 2 + hold_s + begin_s)
            if any(map(self._hold_s, switched)):
                self._add("", 1)
                self._hold(name, 0.5 + hold_s)
        elif switched:
            self._add(f"tap {name} @{self._at_s:g}", 0)
        else:
            self._at_s -= 1
        self._add("", 1.5)

    def turn_on_and_off(self, trigger: TriggerRecord) -> None:
        """Selectors where the trigger plays, for long enough, and then one of them elsewhere."""
        self._turn(trigger, self._at_s)
        self._add("", 1 + self._begin_s(trigger))
        selector, mask = trigger.conditions[0]
        elsewhere = ~mask & (1 << self._table.selectors[selector].positions) - 1
        if elsewhere:
            self._set(selector, elsewhere, self._at_s)
        self._add("", 1.5)

    def _add(self, item: str, then_s: float) -> None:
        self.items += [item] if item else []
        self._at_s = round(self._at_s + then_s, 2)

    def _hold(self, name: str, for_s: float) -> None:
        begin_s = self._at_s
        self._add("", for_s)
        self.items.append(f"hold {name} @{begin_s:g}..{self._at_s:g}")

    def _turn(self, trigger: TriggerRecord, at_s: float) -> None:
        for selector, mask in trigger.conditions:
            if not mask >> self._positions[selector] & 1:
                self._set(selector, mask, at_s)

    def _set(self, selector: int, mask: int, at_s: float) -> None:
        """Turn a selector to the first position of a mask."""
        position = self._positions[selector] = (mask & -mask).bit_length() - 1
        self.items.append(
            f"set {self._names.selectors[selector]} {self._names.positions[selector][position]}"
            f" @{at_s:g}"
        )

    def _begin_s(self, trigger: TriggerRecord) -> float:
        """What plays before the effect that goes on."""
        begin = trigger.action.begin if isinstance(trigger.action, Stay) else None
        return (
            0.0 if begin is None else self._table.effects[begin].length / self._table.frame_rate_hz
        )

    def _hold_s(self, trigger: TriggerRecord) -> float:
        return trigger.hold / self._table.frame_rate_hz
