"""Wrong readings of SPEC.md that are near at hand: put into the plain player, each must fail its
vector.
"""

from pathlib import Path
from types import ModuleType

import plain_player
import pytest
from vector_files import Vector, events, read_all, sha256, table_bytes, trace

HERE = Path(__file__).parent
PLAYER = "plain_player"
LIGHT = "plain_light"
SOUND = "plain_sound"
TAKEN_FROM = {SOUND: "Mixer", LIGHT: "Light"}
"""What the plain player takes from its other modules."""
VECTORS = {vector["id"]: vector for vector in read_all()}

NOT_LIVE = "        if not self.live:\n            self.a = 0"
AMBIENT_LOOK = "        self.ambient.end_what_is_over(frame, 0)\n"
EFFECT_LOOK = "        self.effect.end_what_is_over(frame, self.ambient.level(frame, 0))\n"
EFFECT_FIRST = (
    EFFECT_LOOK.replace("level(frame", "level(max(frame - 1, self.ambient.began)") + AMBIENT_LOOK
)
TURN = "(frame - channel.counts_from() + c * (c + 1) // 2) & self.table.light_mask == 0"
UPPER = "self.effect if self.effect.curve is not None else self.ambient"
LOOKED_AT = "turn or ends or channel.looked_at or frame == 0"
LOOKS_LATER = "        self.looked_at = True"
LOOK_BEFORE = "        self.look(frame)\n" + LOOKS_LATER
COUNTED = "            if group.gauge == counter:\n                for c in channels_of(group):"
RATE = "u32(t * pace) >> by"
PHASE = "u32(t * pace)\n"
BETWEEN = "(s32((b - a) * (self.part >> 8)) >> 8)"
GAIN = "s32(value * gain) >> 12"
FADED = "        gain = u32(self.gain * (self.factor >> 16)) >> 15 if self.let_go else self.gain"
LOOPS = "        if self.looped:\n            if self.whole"
FALL = "u32(self.release * samples_per_frame)"
GROUP = "min(4, self.table.samples_per_frame - len(samples))"
LEAST = "least = min(self.voices[v].gain for v in among)"
FALLEN = "self.voices[v].gain * (self.voices[v].factor >> 16 if self.voices[v].let_go else 32768)"
QUIETEST = "            among = [v for v in among if self.voices[v].gain == least]"
HELD = "clamp(self.tail + self.voices[voice].added, -1048575, 1048575)"
TAIL_FIRST = "        self.fall()\n        total = self.tail + sum("
TURNED = "s32(total * self.volume) >> 8"
LOSES = "self.tail -= self.tail >> 5"
PLACES = "        for index in range(PLACES):"
SEEDS = (
    "        for lit in filter(None, self.light.channels):\n            lit.effect.seed ="
    " self.dice.x\n"
)
EMPTY_NOW = ' and self.trace[-2:-1] != [(frame, EVENT_KINDS["EMPTY"], index, record.needs)]'
BEGINS = "if not state.running and state.rises"
NEEDS = "        if not self.has_needs(index):\n            return False\n"
CHOICE = "        effect = self.choose(index)\n        state = self.triggers[index]\n"

MISREADINGS = [  # rule, vector, module, text of the plain player, what the misreading makes of it
    ("6.2 R3 (c)", "returned-to-ambient-and-gone", LIGHT, NOT_LIVE, ""),
    ("6.2 R1", "starts-from-0-once-it-is-over", LIGHT, NOT_LIVE, ""),
    (
        "6.2 R4",
        "ambient-target-is-0-whatever-was-lit",
        LIGHT,
        "        ambient = self.ambient.level(frame, 0)",
        "        ambient = self.ambient.level(frame, 25700)",
    ),
    (
        "6.2 R3, order",
        "segments-of-both-layers-end-in-one-frame",
        LIGHT,
        AMBIENT_LOOK + EFFECT_LOOK,
        EFFECT_FIRST,
    ),
    (
        "6.2 R3, order",
        "curves-of-both-layers-end-in-one-frame",
        LIGHT,
        AMBIENT_LOOK + EFFECT_LOOK,
        EFFECT_FIRST,
    ),
    (
        "6.2 R3 (a), now",
        "returns-to-the-ambient-level-of-its-end",
        LIGHT,
        EFFECT_LOOK,
        EFFECT_LOOK.replace("level(frame", "level(max(frame - 2, 0)"),
    ),
    ("6.2, whose turn", "turns-of-2", LIGHT, TURN, TURN.replace("c * (c + 1) // 2", "0")),
    ("6.2, whose turn", "turns-of-4", LIGHT, TURN, TURN.replace("c * (c + 1) // 2", "c")),
    ("6.2, whose turn", "turns-of-8", LIGHT, TURN, TURN.replace("+ c", "- c")),
    ("6.2, from when", "turns-fall-alike", LIGHT, TURN, TURN.replace(" - channel.counts_from()", "")),
    ("6.2, of which layer", "returns-to-the-ambient-level-of-its-end", LIGHT, UPPER, "self.ambient"),
    ("6.2, of which layer", "turns-of-an-ambient-curve", LIGHT, UPPER, "self.effect"),
    ("6.2, all in all frames", "turns-of-8", LIGHT, LOOKED_AT, "True"),
    ("6.2, an end", "layers-end-one-after-the-other", LIGHT, LOOKED_AT, LOOKED_AT.replace("ends or ", "")),
    ("6.2, a start", "start-shows-at-once", LIGHT, LOOKED_AT, "turn or ends or frame == 0"),
    ("6.2, a gauge", "gauge-shows-at-once", LIGHT, "[c].look_before(frame)", "[c].look(frame)"),
    (
        "6.2, first a look",
        "looks-before-a-count",
        LIGHT,
        "[c].look_before(frame)",
        "[c].looked_at = True",
    ),
    ("6.2, frame 0", "gauge-shows-at-once", LIGHT, LOOKED_AT, "turn or ends or channel.looked_at"),
    (
        "6.2, the same level",
        "count-that-changes-nothing-looks",
        LIGHT,
        COUNTED,
        COUNTED.replace("== counter", "== counter and value"),
    ),
    ("6.2 R1, first a look", "looks-before-a-start", LIGHT, LOOK_BEFORE, LOOKS_LATER),
    ("6.3 R2", "rate-is-rounded-down", LIGHT, RATE, "t * 32768 // -(-32768 * 2**by // pace)"),
    ("6.4 R1, phase", "flicker-whose-points-are-no-frames", LIGHT, PHASE, "t * 65536 // (65536 // pace)\n"),
    ("6.4 R1, points", "flicker-hash", LIGHT, "k * 65536", "k * 65536 // segment.pace"),
    ("6.4 R2", "flicker-knows-nothing-of-draws", PLAYER, PLACES, SEEDS + PLACES),
    ("6.1 R4, 8 bits", "pitch-is-drawn", SOUND, BETWEEN, "((b - a) * (self.part >> 1) >> 15)"),
    ("6.1 R4, below 0", "half-speed", SOUND, BETWEEN, "int((b - a) * (self.part >> 8) / 256)"),
    ("6.1 R4, gain", "gain-rounds-down", SOUND, GAIN, "int(value * gain / 4096)"),
    (
        "6.1 R5, order",
        "release-lowers-the-gain",
        SOUND,
        FADED,
        "        value = value * (self.factor >> 16) >> 15\n        gain = self.gain",
    ),
    (
        "6.1 R5, looping",
        "release-lowers-the-gain",
        SOUND,
        LOOPS,
        LOOPS.replace("looped", "looped and not self.let_go"),
    ),
    (
        "6.1 R5, none",
        "shortest-release",
        SOUND,
        FALL,
        "max((self.release - 1) * samples_per_frame, 1)",
    ),
    ("6.1 R5, length", "release-of-8193-frames", SOUND, FALL, f"min({FALL}, 32768)"),
    ("6.1 R5, groups", "release-in-thirds", SOUND, GROUP, "1"),
    ("6.1 R5, last group", "release-in-frames-of-six", SOUND, GROUP, "min(4, 2 + len(samples))"),
    (
        "6.1 R5, last group",
        "release-in-frames-of-six",
        SOUND,
        "            self.fade(group)",
        "            self.fade(4)",
    ),
    (
        "6.1 R6",
        "quietest-of-equals-is-not-the-lowest-voice",
        SOUND,
        QUIETEST,
        QUIETEST.replace("least]", "least][:1]"),
    ),
    (
        "6.1 R6, of what falls",
        "quietest-of-one-that-falls",
        SOUND,
        LEAST + "\n" + QUIETEST,
        f"least = min({FALLEN} for v in among)\n"
        f"            among = [v for v in among if {FALLEN} == least]",
    ),
    ("6.1 R8, one tail", "cut-within-a-tail", SOUND, HELD, HELD.replace("self.tail + ", "")),
    ("6.1 R8, held", "tail-is-held-at-each-cut", SOUND, HELD, HELD.replace("1048575", "2**30")),
    (
        "6.1 R8, what it added",
        "tail-of-what-was-let-go",
        SOUND,
        HELD,
        HELD.replace(".added", ".sample()"),
    ),
    (
        "6.1 R8, first loses",
        "tail-of-a-cut",
        SOUND,
        TAIL_FIRST,
        "        total = self.tail\n        self.fall()\n        total += sum(",
    ),
    ("6.1 R8, above 0", "tail-comes-to-0", SOUND, "        self.tail -= above\n", ""),
    ("6.1 R8, below 0", "tail-below-0", SOUND, LOSES, "self.tail -= int(self.tail / 32)"),
    (
        "6.1 R8, not for each cut",
        "two-cuts-in-a-frame",
        SOUND,
        HELD,
        HELD.replace("self.tail +", "self.tail - (self.tail >> 5) +"),
    ),
    ("6.1 R10", "volume-rounds-down", SOUND, TURNED, "int(total * self.volume / 256)"),
    (
        "5.4, Fire",
        "more-than-255-shots",
        PLAYER,
        "min(state.shots + 1, 65535)",
        "min(state.shots + 1, 255)",
    ),
    ("5.4 R1", "empty-does-not-take-a-turn", PLAYER, NEEDS + CHOICE, CHOICE + NEEDS),
    ("5.4 R1", "empty-draws-nothing", PLAYER, NEEDS + CHOICE, CHOICE + NEEDS),
    ("5.4 R3", "finds-nothing-twice-in-a-frame", PLAYER, BEGINS, BEGINS + EMPTY_NOW),
]


def misread(name: str, text: str, instead: str) -> ModuleType:
    """One module of the plain player with the misreading in it."""
    source = (HERE / f"{name}.py").read_text(encoding="utf-8")
    assert source.count(text) == 1
    module = ModuleType(f"misread_{name}")
    exec(compile(source.replace(text, instead), module.__name__, "exec"), module.__dict__)
    return module


def passes(vector: Vector) -> bool:
    try:
        samples, duties, told, _ = plain_player.play(
            table_bytes(vector), events(vector), vector["until_frame"]
        )
    except (AssertionError, IndexError):  # a width or a sample that the rules promise
        return False
    sound = sha256(samples, signed=True)
    light = sha256(duty for row in duties for duty in row)
    return (told, sound, light) == (
        trace(vector),
        vector["samples_sha256"],
        vector["duties_sha256"],
    )


@pytest.mark.parametrize(("rule", "id", "name", "text", "instead"), MISREADINGS)
def test_a_player_that_misreads_the_rule_fails_its_vector(
    monkeypatch: pytest.MonkeyPatch, rule: str, id: str, name: str, text: str, instead: str
) -> None:
    assert passes(VECTORS[id])
    module = misread(name, text, instead)
    if name == PLAYER:
        monkeypatch.setattr(plain_player, "PlainPlayer", module.PlainPlayer)
    else:
        monkeypatch.setattr(plain_player, TAKEN_FROM[name], getattr(module, TAKEN_FROM[name]))
    assert not passes(VECTORS[id]), rule
