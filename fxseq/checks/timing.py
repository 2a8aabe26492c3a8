"""When sound and light reach people: after the press, and one after the other."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fxseq.acoustics import SPEED_OF_SOUND_M_PER_S
from fxseq.checks.check import check
from fxseq.checks.scopes import EFFECT, RUN, TRIGGER, TimedEffect, TimedTrigger
from fxseq.runs import Performance, Prop
from fxseq.runs.onset import FIRST_LIGHT, FIRST_SOUND, frames_until_seen, lead_in_ms
from fxseq.sequence import Finding, Weight
from fxseq.sequence import model as m

UNFELT_MS = 10.0
FELT_MS = 20.0
"""A constant delay of 10 ms was rated no worse than none by players of an instrument, one of 20
ms was.
"""
EVEN_MS = 3.0
UNEVEN_MS = 6.0
"""A delay of 10 ms that varied by 3 ms either way was rated worse; half of that range is asked
for.
"""
NOTICED_MS = (-125.0, 45.0)
"""How much sooner than the picture sound may come, and later where below 0, before people
notice.
"""
TOLERATED_MS = (-185.0, 90.0)
"""Offset at which it is no longer acceptable."""
_SHARE_OF_PRESSES = 95.0
_INSTRUMENTS = "Jack, Mehrabi, Stockman and McPherson on latency of instruments, abstract read"


@check(
    EFFECT,
    "sound.offset",
    "Do sound and light of an effect reach people together?",
    rule=(
        f"The first sound of an effect is where a clip reaches {FIRST_SOUND:.0%} of its peak; the"
        f" first light is where a fade has gone {FIRST_LIGHT:.0%} of its way in lightness. Sound"
        f" travels {SPEED_OF_SOUND_M_PER_S:g} m in a second. At hand and audience it may arrive up"
        f" to {NOTICED_MS[1]:g} ms before the light or {-NOTICED_MS[0]:g} ms after it. A note"
        f" beyond that, a warning beyond {TOLERATED_MS[1]:g} and {-TOLERATED_MS[0]:g} ms."
    ),
    source="ITU-R BT.1359-1 (1998), extract read",
    kind="a standard",
    confidence=(
        "The times are exact to a frame; where a slow sound or fade begins is a matter of taste."
        " The standard is about speech on a screen. Lightning should come before its thunder: only"
        " you know what you want."
    ),
    formula="{o} = {light} - {sound} - {way}",
    symbols={
        "o": "how much sooner the sound arrives than the light, below 0 where it is later, in ms",
        "light": "first light after the effect begins, in ms",
        "sound": "first sound after the effect begins, in ms",
        "way": "time that sound takes to that place, in ms",
    },
)
def offset(timed: TimedEffect) -> Iterator[Finding]:
    """Judge the place where it is worst."""
    prop = timed.prop
    name = timed.name
    effect = prop.sequence.effects[name]
    listening = prop.sequence.listening
    sound_ms = _first_sound_ms(prop, effect)
    light_ms = _first_light_ms(prop, effect)
    if sound_ms is None or light_ms is None:
        return
    places = {"hand": listening.hand_m, "audience": listening.audience_m}
    ways_ms = {
        place: 1000 * distance_m / SPEED_OF_SOUND_M_PER_S for place, distance_m in places.items()
    }
    place = max(places, key=lambda place: _beyond(light_ms - sound_ms - ways_ms[place]))
    offset_ms = light_ms - sound_ms - ways_ms[place]
    if _beyond(offset_ms) <= 0:
        return
    yield offset.finding(
        Weight.NOTE if TOLERATED_MS[0] <= offset_ms <= TOLERATED_MS[1] else Weight.WARNING,
        f"effect '{name}'",
        f"at {place} ({places[place]:g} m) its sound comes {abs(offset_ms):.0f} ms"
        f" {'before' if offset_ms > 0 else 'after'} its light",
        f"{NOTICED_MS[1]:g} ms before, {-NOTICED_MS[0]:g} ms after",
        _together(offset_ms),
        {
            "o": f"{offset_ms:.1f} ms",
            "light": f"{light_ms:.1f} ms",
            "sound": f"{sound_ms:.1f} ms",
            "way": f"{ways_ms[place]:.1f} ms",
        },
    )


def _frame_ms(prop: Prop) -> float:
    return 1000 / prop.compiled.table.frame_rate_hz


def _first_sound_ms(prop: Prop, effect: m.Effect) -> float | None:
    """From the begin of the effect; None without sound."""
    return min(
        (sound.at_ms + lead_in_ms(prop.clips[sound.clip]) for sound in effect.sounds), default=None
    )


def _first_light_ms(prop: Prop, effect: m.Effect) -> float | None:
    """From the begin of the effect; None without a light that changes."""
    table = prop.compiled.table
    names = prop.compiled.names
    seen = (
        (light.at_ms, frames_until_seen(table.fades[names.fades.index(light.fade)]))
        for light in effect.lights
    )
    return min(
        (at_ms + frames * _frame_ms(prop) for at_ms, frames in seen if frames is not None),
        default=None,
    )


def _beyond(offset_ms: float) -> float:
    """How far it is beyond what goes unnoticed, in shares of that; not above 0 where it does.
    The limits lie on either side of 0.
    """
    late_ms, early_ms = NOTICED_MS
    return max(offset_ms / early_ms, offset_ms / late_ms) - 1


def _together(offset_ms: float) -> str:
    if offset_ms > 0:
        return (
            f"Let its sounds begin later, or its lights sooner (at_ms), by {offset_ms:.0f} ms in"
            " all, unless you want it so."
        )
    return (
        "Let its lights begin later, or its sounds sooner (at_ms; start_ms cuts a slow onset), by"
        f" {-offset_ms:.0f} ms in all, unless you want it so."
    )


@check(
    TRIGGER,
    "sound.jitter",
    "Does the delay from press to sound change from one press to the next?",
    rule=(
        "A hand gets used to a delay that is always the same. For each trigger the delays of all"
        " its effects that sound at once are collected, each with a wait for the frame between"
        " none and a whole frame. Nine presses in ten lie within the range given. A note where it"
        f" is wider than {EVEN_MS:g} ms, a warning above {UNEVEN_MS:g} ms."
    ),
    source=_INSTRUMENTS,
    kind="research",
    confidence=(
        "Exact for board and clips. Musicians rated 10 ms that varied by 3 ms either way worse than"
        " a constant 10 ms. To take half of that range as the limit is our own choice."
    ),
    formula="{j} = {t95} - {t5}",
    symbols={
        "j": "range of the delays, in ms",
        "t95": "delay that 95 presses in 100 stay below, in ms",
        "t5": "delay that 5 presses in 100 stay below, in ms",
    },
)
def jitter(timed: TimedTrigger) -> Iterator[Finding]:
    """Judge effects that take turns; those that do not sound at once are no answer to the press."""
    prop = timed.prop
    name = timed.name
    trigger = timed.trigger
    at_once = [
        [sound for sound in prop.sequence.effects[effect].sounds if sound.at_ms < _frame_ms(prop)]
        for effect in trigger.effects
    ]
    leads_ms = [
        min(lead_in_ms(prop.clips[sound.clip]) for sound in sounds) for sounds in at_once if sounds
    ]
    if not leads_ms:
        return
    waits_ms = _waits_ms(np.array(leads_ms), _frame_ms(prop))
    low_ms, high_ms = (
        float(wait_ms)
        for wait_ms in np.percentile(waits_ms, [100 - _SHARE_OF_PRESSES, _SHARE_OF_PRESSES])
    )
    if high_ms - low_ms <= EVEN_MS:
        return
    yield jitter.finding(
        Weight.WARNING if high_ms - low_ms > UNEVEN_MS else Weight.NOTE,
        f"trigger '{name}'",
        f"from press to sound {low_ms:.1f} to {high_ms:.1f} ms, depending on which effect plays and"
        " when the frame begins",
        f"{EVEN_MS:g} ms from the shortest to the longest; {UNEVEN_MS:g} ms was rated worse",
        "Cut silence and slow onsets from the start of its clips (start_ms) until all begin alike,"
        " or use shorter frames (fewer samples a frame).",
        {"j": f"{high_ms - low_ms:.2f} ms", "t95": f"{high_ms:.2f} ms", "t5": f"{low_ms:.2f} ms"},
    )


def _waits_ms(leads_ms: NDArray[np.float64], frame_ms: float) -> NDArray[np.float64]:
    """Waits of presses that come at any time within a frame, each lead-in as often as it is
    there.
    """
    return np.add.outer(leads_ms, frame_ms * np.linspace(0, 1, 101)).ravel()


@check(
    RUN,
    "sound.delay",
    "Does the sound come so late after a press that a hand feels it?",
    rule=(
        "The board notices a press after one frame at the latest. Then the clip plays until it"
        f" becomes audible, which is at {FIRST_SOUND:.0%} of its peak. The delay is the two"
        f" together. A note where one press in twenty waits longer than {UNFELT_MS:g} ms, a warning"
        f" above {FELT_MS:g} ms."
    ),
    source=_INSTRUMENTS,
    kind="research",
    confidence=(
        "Exact for board and clip; the delay of an amplifier or an output buffer is not known here."
        " The limit is that of trained musicians."
    ),
    formula="{t95} <= {t} = {frame} + {lead}",
    symbols={
        "t95": "delay that 95 presses in 100 stay below, in ms",
        "t": "longest delay from press to sound, in ms",
        "frame": "one frame, in ms",
        "lead": "time until that clip is heard, in ms",
    },
)
def delay(run: Performance) -> Iterator[Finding]:
    """Whether sounds come so late after a press that a hand feels it."""
    frame_ms = _frame_ms(run.prop)
    longest_ms = max(run.delays_ms, default=0.0)
    leads_ms = np.array(run.delays_ms) - frame_ms
    most_ms = 0.0
    if leads_ms.size:
        most_ms = float(np.percentile(_waits_ms(leads_ms, frame_ms), _SHARE_OF_PRESSES))
    if most_ms <= UNFELT_MS:
        return
    yield delay.finding(
        Weight.WARNING if most_ms > FELT_MS else Weight.NOTE,
        "trigger to sound",
        f"at most {longest_ms:.1f} ms, {most_ms:.1f} ms or less for 95 presses in 100",
        f"{UNFELT_MS:g} ms; {FELT_MS:g} ms was rated worse",
        "Cut silence and slow onsets from the start of the clips (start_ms), or use shorter frames"
        " (fewer samples a frame).",
        {
            "t95": f"{most_ms:.2f} ms",
            "t": f"{longest_ms:.2f} ms",
            "frame": f"{frame_ms:.2f} ms",
            "lead": f"{longest_ms - frame_ms:.2f} ms",
        },
    )
