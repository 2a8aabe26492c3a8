"""Sound as it is played: voices, full scale, and the amplifier at its supply."""

import math
from collections.abc import Iterator

from fxseq.acoustics import power_db
from fxseq.acoustics.decibels import mean_square
from fxseq.checks.check import PLAYED, PRACTICE, check, listed
from fxseq.checks.scopes import FILE, RUN, SOUNDING, Described, Loudness
from fxseq.player import TraceKind
from fxseq.runs import Performance
from fxseq.runs.heard import amplifier_span
from fxseq.sequence import Finding, Weight
from fxseq.sequence.quantities import amount, fixed, number

CLIPPED_SHARE = 0.001
"""Share of the samples that may be cut off, by full scale or by the rail of the amplifier.
Common practice, no source.
"""
MOST_CLIPPED = f"{100 * CLIPPED_SHARE:g} % of the samples"


@check(
    FILE,
    "sound.no_voltage",
    "Does the amplifier have any voltage left for sound?",
    rule=(
        "The output of an amplifier reaches the supply voltage less what its output stage loses. A"
        " fault where that loss is as much as the freshest supply has."
    ),
    source="lost_voltage_v and the supplies in the prop file",
    kind="your own files",
    confidence=(
        "Certain if lost_voltage_v is that of the data sheet. The drop that the lights cause comes"
        " on top."
    ),
    formula="{V} <= {lost}",
    symbols={
        "V": "voltage of the freshest supply, in V",
        "lost": "lost_voltage_v of the amplifier, in V",
    },
)
def no_voltage(described: Described) -> Iterator[Finding]:
    """Supplies of whose voltage the amplifier has nothing left."""
    sequence = described.sequence
    if sequence.amplifier is None:
        return
    lost_v = sequence.amplifier.lost_voltage_v
    for name, supply in sequence.supplies.items():
        volts = amplifier_span(sequence, supply).fresh_v
        if volts <= lost_v:
            yield no_voltage.finding(
                Weight.FAULT,
                f"amplifier on supply '{name}'",
                f"it has no voltage left: its output loses {amount(lost_v, 'V')} of"
                f" {amount(volts, 'V')}",
                f"a supply of more than {amount(lost_v, 'V')}",
                "There is no sound. Use a higher supply voltage, or an amplifier with a lower"
                " lost_voltage_v.",
                {"V": f"{number(volts)} V", "lost": f"{number(lost_v)} V"},
            )


@check(
    RUN,
    "sound.voices",
    "Are sounds cut short because too many play at once?",
    rule=(
        "Each sound takes a voice while it plays. Where no voice is free, another sound is cut"
        " short. A finding where that happens."
    ),
    source="the board in the prop file",
    kind="your own files",
    confidence=PLAYED,
    formula="{cut} > 0",
    symbols={
        "cut": "sounds that are cut short",
        "sounds": "all sounds",
        "voices": "voices of the board",
    },
    measure=lambda run: len(run.events(TraceKind.CUT)),
    limit=lambda sequence, supply: 0,
)
def voices(run: Performance) -> Iterator[Finding]:
    """Sounds that are cut short."""
    cut = run.events(TraceKind.CUT)
    if not cut:
        return
    clips = sorted({run.prop.compiled.names.clips[event.value] for event in cut})
    sounds = len(run.events(TraceKind.SOUND))
    available = run.prop.compiled.table.voices
    yield voices.finding(
        Weight.WARNING,
        "voices",
        f"{len(cut)} of {sounds} sounds are cut short ({listed(clips)})",
        f"{available} voices",
        "Shorten the clips, repeat more slowly, or use more voices.",
        {"cut": f"{len(cut)}", "sounds": f"{sounds}", "voices": f"{available}"},
    )


@check(
    RUN,
    "sound.saturated",
    "Do sounds that play together clip?",
    rule=(
        "The voices are added up, and whatever goes beyond full scale is clipped, which sounds"
        f" harsh. A note where that happens at all, a warning above {CLIPPED_SHARE:.1%} of the"
        " samples."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=f"{PLAYED} The share at which it becomes audible is a rule of thumb.",
    formula="{p} = {n} / {N}",
    symbols={
        "p": "share of the samples at full scale, in %",
        "n": "samples at full scale",
        "N": "all samples",
    },
    limit=lambda sequence, supply: CLIPPED_SHARE,
)
def saturated(run: Performance) -> Iterator[Finding]:
    """Voices that add up beyond full scale."""
    count = run.played.saturated
    samples = len(run.played.samples)
    if not count:
        return
    share = count / max(samples, 1)
    yield saturated.finding(
        Weight.WARNING if share > CLIPPED_SHARE else Weight.NOTE,
        "sum of the voices",
        f"{share:.2%} of the samples are at full scale",
        MOST_CLIPPED,
        "Lower gain_db of the sounds that play together, or the level of their clips.",
        {"p": f"{share:.2%}", "n": f"{count}", "N": f"{samples}"},
    )


@check(
    SOUNDING,
    "sound.clipping",
    "Does the amplifier clip?",
    rule=(
        "An amplifier gives no more voltage than its supply has. Where the sound asks for more,"
        " its peaks are clipped, which sounds harsh and heats the speaker. A note where that"
        f" happens at all, a warning above {CLIPPED_SHARE:.1%} of the samples."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "Right within about 1 dB for a fresh supply; with flat cells the amplifier clips earlier."
    ),
    formula="{p} > 0",
    symbols={"p": "share of the samples that clip, in %"},
    measure=lambda loud: loud.levels.clipped_share,
    limit=lambda sequence, supply: CLIPPED_SHARE,
)
def clipping(loud: Loudness) -> Iterator[Finding]:
    """Whether the amplifier runs into its rail."""
    share = loud.levels.clipped_share
    if share == 0:
        return
    yield clipping.finding(
        Weight.WARNING if share > CLIPPED_SHARE else Weight.NOTE,
        "amplifier",
        f"clips at {share:.2%} of the samples",
        MOST_CLIPPED,
        "Lower the amplifier's gain or the clips' levels, or feed the amplifier from a higher"
        " voltage.",
        {"p": f"{number(100 * share, 2)} %"},
    )


@check(
    RUN,
    "sound.flat_supply",
    "Is the sound as loud and as clean when the supply is at its lowest?",
    rule=(
        "Levels are given for a fresh supply. The sound is put through the amplifier once more at"
        " the lowest voltage: for cells that at which the prop stops, for an adaptor the lower end"
        f" of its tolerance. A note where more than {MOST_CLIPPED} clip then, but not with a fresh"
        " supply."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "The voltage counts as it is, without the further drop that the lights cause. The limit is"
        " a rule of thumb."
    ),
    formula=f"{{p}} > {100 * CLIPPED_SHARE:g} %",
    symbols={
        "p": "share of the samples that clip at the lowest voltage, in %",
        "V": "that voltage, in V",
        "less": "by how much it is quieter then, in dB",
    },
)
def flat_supply(run: Performance) -> Iterator[Finding]:
    """What becomes of the sound when the supply is at its lowest."""
    if (
        run.heard.levels is None
        or run.supply is None
        or run.heard.levels.clipped_share > CLIPPED_SHARE
    ):
        return
    lowest_v = amplifier_span(run.prop.sequence, run.supply[1]).flat_v
    volts, clipped = run.sound.volts_at(lowest_v)
    if clipped <= CLIPPED_SHARE:
        return
    less_db = float(power_db(mean_square(run.heard.volts)) - power_db(mean_square(volts)))
    less = f"{fixed(less_db, 1)} dB"
    softer = f"{less} quieter"
    if math.isinf(less_db):
        less = "all of it"
        softer = "silent"
    yield flat_supply.finding(
        Weight.NOTE,
        "amplifier",
        f"at {amount(lowest_v, 'V')}, the lowest of its supply, it clips at {clipped:.2%} of the"
        f" samples and is {softer}",
        MOST_CLIPPED,
        "If it should sound the same to the end, lower the amplifier's gain or the clips' levels.",
        {
            "p": f"{number(100 * clipped)} %",
            "V": f"{number(lowest_v)} V",
            "less": less,
        },
    )
