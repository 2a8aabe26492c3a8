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
AMBIENT_FIRST = (
    "        self.ambient.bring_up(frame, 0)  # R4: to the ambient layer itself, ambient is 0\n"
    "        self.effect.bring_up(frame, self.ambient.level(frame, 0))"
)
EFFECT_FIRST = (
    "        self.effect.bring_up(frame, self.ambient.level(frame - 1, 0))\n       "
    " self.ambient.bring_up(frame, 0)"
)
FACTOR = "            value = toward_zero(value * self.factor, 32768)\n"
GAIN = "        self.added = toward_zero(value * self.gain, 4096)"
LOOPS = "        if self.looped:\n            if self.whole"
LASTS = "max(u32(self.release * samples_per_frame), 1)"
LEFT = "toward_zero(self.tail * (ramp - n), ramp)"
QUIETEST = "            among = [v for v in among if self.voices[v].gain == least]"
BRINGS_UP = "        self.light.bring_up(self.frame_number)"
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
    ("6.2 R3 (d)", "segments-of-both-layers-end-in-one-frame", LIGHT, AMBIENT_FIRST, EFFECT_FIRST),
    ("6.2 R3 (d)", "curves-of-both-layers-end-in-one-frame", LIGHT, AMBIENT_FIRST, EFFECT_FIRST),
    ("6.4 R2", "flicker-knows-nothing-of-draws", PLAYER, BRINGS_UP, SEEDS + BRINGS_UP),
    (
        "6.1 R5, order",
        "release-goes-before-gain",
        SOUND,
        FACTOR + GAIN,
        "            value = toward_zero(value * self.gain, 4096)\n"
        + FACTOR
        + GAIN.replace("self.gain", "(4096 if self.let_go else self.gain)"),
    ),
    (
        "6.1 R5, below 0",
        "release-goes-before-gain",
        SOUND,
        FACTOR,
        "            value = value * self.factor >> 15\n",
    ),
    (
        "6.1 R5, looping",
        "release-goes-before-gain",
        SOUND,
        LOOPS,
        LOOPS.replace("looped", "looped and not self.let_go"),
    ),
    ("6.1 R5, length", "release-of-8193-frames", SOUND, LASTS, f"min({LASTS}, 32768)"),
    (
        "6.1 R6",
        "quietest-of-equals-is-not-the-lowest-voice",
        SOUND,
        QUIETEST,
        QUIETEST.replace("least]", "least][:1]"),
    ),
    ("6.1 R8 (b)", "what-is-left-of-a-tail-below-0", SOUND, LEFT, "self.tail * (ramp - n) // ramp"),
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
