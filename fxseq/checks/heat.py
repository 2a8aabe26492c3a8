"""What becomes heat in regulator and amplifier while a prop is played."""

from collections.abc import Iterator

from fxseq.checks.check import check
from fxseq.checks.scopes import FED, Fed
from fxseq.power import fresh_v, regulation
from fxseq.sequence import Finding, Weight
from fxseq.sequence.quantities import amount, number, quantity

HEATING_S = 10.0
"""Time over which a small chip on its board, or a regulator, warms up. Common practice, no
source. [s]
"""
_HOT = "Hot parts can burn skin, soften plastic and harm cells beside them."
_LIMIT = "maximum_heat_w in the prop file, or without it common practice, no source"


@check(
    FED,
    "power.regulator_current",
    "Does the regulator give more current than it is rated for?",
    rule=(
        "The currents of everything that the regulator feeds are added up over the time played. A"
        " finding where the highest sum is above its rating."
    ),
    source="maximum_current_ma of the regulator in the prop file",
    kind="your own files",
    confidence=(
        "As good as the currents of the parts, and for the presses that were played. Without a"
        " rating in the file there is no finding."
    ),
    formula="{I} > {Imax}",
    symbols={
        "I": "highest current at its output, in mA",
        "Imax": "maximum_current_ma of the regulator, in mA",
    },
)
def regulator_current(fed: Fed) -> Iterator[Finding]:
    """Whether it gives more than it is rated for."""
    found = regulation(fed.sequence)
    if found is None:
        return
    peak_ma = fed.load.regulated_ma.peak()
    rated_ma = found.part.maximum_current_ma
    if rated_ma is not None and peak_ma > rated_ma:
        yield regulator_current.finding(
            Weight.WARNING,
            f"regulator on {fed.subject}",
            f"gives {peak_ma:.0f} mA peak",
            quantity(rated_ma, "mA"),
            "Feed less from it (feeds), lower the currents, or use a stronger regulator.",
            {"I": f"{number(peak_ma, 4)} mA", "Imax": quantity(rated_ma, "mA")},
        )


@check(
    FED,
    "power.regulator_heat",
    "Does the regulator get too hot?",
    rule=(
        "A linear regulator turns the spare voltage into heat; a switching one turns its losses"
        " into heat. The heat is worked out for the freshest supply, over the hottest"
        f" {HEATING_S:g} s of the time played. A finding where it is more than the regulator can"
        f" take. {_HOT}"
    ),
    source=(
        "maximum_heat_w of the regulator, or else that of a generic part, from memory: 60 K warmer"
        " than the air, without a heat sink"
    ),
    kind="from memory",
    confidence=(
        "The heat is right within 10 to 20 %, if the currents are right. How much a regulator can"
        " take depends on its case, its heat sink and the air inside the prop."
    ),
    formula="{P} = ({r} * {I} + {Iown}) * {V} - {Vout} * {I}",
    symbols={
        "P": "heat, in W",
        "V": "voltage of the freshest supply, in V",
        "Vout": "output_v of the regulator, in V",
        "I": "current at its output over the hottest time, in mA",
        "Iown": "its own current, in mA",
        "r": (
            "input current for each ampere of output: 1 for a linear one; for a switching one it"
            " follows from its efficiency"
        ),
        "Pmax": "heat that it can take, in W",
    },
)
def regulator_heat(fed: Fed) -> Iterator[Finding]:
    """Whether it stands what it turns into heat."""
    found = regulation(fed.sequence)
    if found is None:
        return
    lasting_ma = fed.load.regulated_ma.highest_mean(HEATING_S)
    volts = fresh_v(fed.supply).high
    heat_w = found.heat_w(volts, lasting_ma / 1000)
    if found.is_linear:
        remedy = "it from a lower voltage, or use a converter that steps down"
    else:
        remedy = "less from it, or use a larger one"
    if heat_w > found.most_heat_w:
        yield regulator_heat.finding(
            Weight.WARNING,
            f"regulator on {fed.subject}",
            f"{amount(heat_w, 'W', 2)} of heat over the hottest {HEATING_S:g} s, with"
            f" {amount(volts, 'V')} at its input",
            quantity(found.most_heat_w, "W"),
            f"Feed {remedy}. If a heat sink or its data sheet allows more, write that as"
            " maximum_heat_w.",
            {
                "P": f"{number(heat_w, 4)} W",
                "V": f"{number(volts, 4)} V",
                "Vout": quantity(found.output_v, "V"),
                "I": f"{number(lasting_ma, 4)} mA",
                "Iown": f"{number(1000 * found.own_a)} mA",
                "r": number(found.ratio(volts), 4),
                "Pmax": quantity(found.most_heat_w, "W"),
            },
            "" if found.part.maximum_heat_w is not None else found.kind.source,
        )


@check(
    FED,
    "power.amplifier_heat",
    "Does the amplifier get too hot?",
    rule=(
        "Power that the amplifier takes from its supply and does not give to the speaker becomes"
        " heat. It is worked out from the sound as played, at the freshest supply, over the"
        f" hottest {HEATING_S:g} s. A finding where it is more than the amplifier can take. {_HOT}"
    ),
    source=_LIMIT,
    kind="common practice",
    confidence=(
        "The speaker counts as its coil alone, which draws most current, so the heat is on the safe"
        " side. A small amplifier board without a heat sink is assumed to take 1 W unless its data"
        " sheet says otherwise."
    ),
    formula="{P} > {Pmax}",
    symbols={
        "P": "heat: V times its current, less the power in the coil, in W",
        "V": "voltage that feeds it, in V",
        "Pmax": "maximum_heat_w of the amplifier, in W",
    },
)
def amplifier_heat(fed: Fed) -> Iterator[Finding]:
    """Whether it stands what it takes and does not give to the speaker."""
    if not fed.run.sound.is_described:
        return
    limit_w = fed.sequence.amplifier.maximum_heat_w
    heat_w = fed.run.sound.heat_w.highest_mean(HEATING_S)
    if heat_w > limit_w:
        yield amplifier_heat.finding(
            Weight.WARNING,
            "amplifier",
            f"{amount(heat_w, 'W', 2)} of heat over the hottest {HEATING_S:g} s, at a supply of"
            f" {amount(fed.run.sound.feed_v, 'V')}",
            quantity(limit_w, "W"),
            "Feed it from a lower voltage, lower its"
            f" gain{', use one of class D' if fed.sequence.amplifier.kind == 'class_ab' else ''},"
            " or write what its data sheet allows with its heat sink as maximum_heat_w.",
            {
                "P": f"{number(heat_w, 4)} W",
                "V": f"{number(fed.run.sound.feed_v, 4)} V",
                "Pmax": quantity(limit_w, "W"),
            },
        )
