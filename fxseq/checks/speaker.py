"""Speaker and amplifier: whether their data sheets agree, and whether the speaker stands what it
is given.
"""

import math
from collections.abc import Iterator

from fxseq.acoustics.air import PATH_DIAMETERS, PATH_UNCERTAINTY_DB
from fxseq.acoustics.driver import air_load_kg
from fxseq.acoustics.levels import COIL_HEATING_S
from fxseq.acoustics.amplifier import quantisation_ratio_db
from fxseq.acoustics.parameters import RELATIONS, Contradiction, completed, contradictions, suspects
from fxseq.acoustics.speaker import (
    driver_of,
    lost_in_free_air_db,
    mounted_resonance_hz,
    sized_quantities,
    stated_quantities,
)
from fxseq.checks.check import PRACTICE, check
from fxseq.checks.scopes import FILE, LOUDEST, SPEAKER, Described, Loudness
from fxseq.sequence import Finding, Speaker, Weight
from fxseq.sequence.quantities import amount, fixed, number, off_by, quantity
from fxseq.sequence.sound_parts import sound_parts

QUIET_DB = 60.0
"""Noise this far below full scale goes unheard behind effects. Common practice, no source. [dB]"""
HEAVIEST_G_PER_CM2 = 1.1
"""Moving mass for each area of a cone: 0.02 to 0.1 on small domes, 0.6 and 1.1 on the two
woofers whose data sheets print both. [g/cm^2]
"""
SAME_SIZE = 1.25
"""Ratio of a stated size to that of the cone, either way: frames are wider than cones. Common
practice, no source.
"""
HIGHEST_RESONANCE_HZ = 2000.0
"""Resonance in its chamber above which a speaker has lost the body of most sounds. Common
practice, no source. [Hz]
"""
# Quantity: key of the description, factor from SI, unit.
_SHOWN = {
    "resonance_hz": ("free_resonance_hz", 1.0, "Hz"),
    "q_mechanical": ("q_mechanical", 1.0, ""),
    "q_electrical": ("q_electrical", 1.0, ""),
    "q_total": ("q_total", 1.0, ""),
    "equivalent_volume_m3": ("equivalent_volume_ml", 1e6, "ml"),
    "coil_ohm": ("coil_ohm", 1.0, "ohm"),
    "moving_mass_kg": ("moving_mass_g", 1e3, "g"),
    "compliance_m_per_n": ("compliance_mm_per_n", 1e3, "mm/N"),
    "force_factor_tm": ("force_factor_tm", 1.0, "T m"),
    "area_m2": ("cone_area_cm2", 1e4, "cm^2"),
    "flat_pa_per_v": ("sensitivity_db", 1.0, "Pa/V at 1 m"),
}


@check(
    SPEAKER,
    "sound.parameters",
    "Do the figures of the speaker's data sheet agree with each other?",
    rule=(
        "Many of these figures follow from each other:"
        f" {'; '.join(relation.text for relation in RELATIONS)}. A finding where one differs from"
        " what the others give by more than 10 %, a sensitivity by more than 3 dB, or the size by"
        " more than 25 %."
    ),
    source=f"small-signal model of Thiele and Small; limit: {PRACTICE}",
    kind="a handbook",
    confidence=(
        "It is certain that one of the figures is wrong, beyond what makers round. Which one cannot"
        " be told with certainty."
    ),
    formula="{relation}: {stated}, where the others give {expected}",
    symbols={
        "relation": "the formula that does not hold",
        "stated": "its first figure as the file has it",
        "expected": "the same figure as the others give it",
    },
)
def parameters(speaker: Speaker) -> Iterator[Finding]:
    """Figures that contradict each other, and a size that goes with no cone that the others
    make.
    """
    stated = stated_quantities(speaker)
    likely = [_SHOWN[name][0] for name in suspects(stated)]
    doubt = f"Look at {' and '.join(likely)} first. " if len(likely) in (1, 2) else ""
    for found in contradictions(stated):
        yield parameters.finding(
            Weight.WARNING,
            "speaker",
            _contradicted(found),
            "within a tenth; a sensitivity within 3 dB",
            f"{doubt}Check the data sheet: one of"
            f" {', '.join(_SHOWN[name][0] for name in (found.name, *found.others))} is wrong.",
            {
                "relation": found.relation,
                "stated": _number(found.name, found.stated),
                "expected": _number(found.name, found.expected),
            },
        )
    yield from _size(speaker)


def _size(speaker: Speaker) -> Iterator[Finding]:
    """Whether the size goes with the cone that the other numbers make, which counts."""
    cone_mm = 2000 * math.sqrt(sized_quantities(speaker)["area_m2"] / math.pi)
    if (
        speaker.cone_area_cm2 is not None
        or 1 / SAME_SIZE <= speaker.diameter_mm / cone_mm <= SAME_SIZE
    ):
        return
    relation = next(relation.text for relation in RELATIONS if "area_m2" in relation.powers)
    stated = quantity(speaker.diameter_mm, "mm")
    yield parameters.finding(
        Weight.WARNING,
        "speaker",
        f"diameter_mm is {stated}, but the other figures give a cone of {amount(cone_mm, 'mm')},"
        " which is used",
        f"within {SAME_SIZE - 1:.0%}",
        "Check the data sheet: the size, equivalent_volume_ml, compliance_mm_per_n or moving_mass_g"
        " is wrong.",
        {"relation": relation, "stated": stated, "expected": amount(cone_mm, "mm")},
    )


def _number(name: str, value: float | None) -> str:
    _, factor, unit = _SHOWN[name]
    if value is None:
        return "no figure at all"
    return amount(value * factor, unit)


def _contradicted(contradiction: Contradiction) -> str:
    key = _SHOWN[contradiction.name][0]
    stated = _number(contradiction.name, contradiction.stated)
    others = ", ".join(_SHOWN[name][0] for name in contradiction.others)
    if contradiction.expected is None or contradiction.off_percent is None:
        return f"{key} is {stated}, which is impossible with {others}"
    return (
        f"{key} is {stated}, but {_number(contradiction.name, contradiction.expected)} follows from"
        f" {others} ({off_by(contradiction.off_percent)})"
    )


@check(
    SPEAKER,
    "sound.moving_mass",
    "Can a speaker of this size have this sensitivity?",
    rule=(
        "Size, resonance and sensitivity together give the moving mass: the lower the sensitivity,"
        " the heavier. A finding where it is lighter than the air that moves with the cone, which"
        f" no cone can be, or heavier than {HEAVIEST_G_PER_CM2:g} g for each cm^2, as the heaviest"
        " woofer of the data sheets seen."
    ),
    source=(
        "measured data sheets of woofers; air as in a published simulation example; limit:"
        f" {PRACTICE}"
    ),
    kind="data sheets",
    confidence=(
        "It is nearly certain that something is wrong; what it is cannot be told. With small"
        " speakers the usual reason is a sensitivity measured in free air; the next is a mistaken"
        " power, voltage or distance. The effect of the chamber, the cone travel and the level"
        " follow from it and are just as wrong."
    ),
    formula="{m} = {M} / {S}",
    symbols={
        "m": "moving mass for each area of the cone, in g/cm^2",
        "M": "moving mass, in g",
        "S": "area of the cone, in cm^2",
        "air": "air that moves with it, in g",
    },
)
def moving_mass(speaker: Speaker) -> Iterator[Finding]:
    """Where it follows from the sensitivity alone."""
    stated = sized_quantities(speaker)
    if "flat_pa_per_v" not in stated or "moving_mass_kg" in completed(
        {name: stated[name] for name in stated if name != "flat_pa_per_v"}
    ):
        return
    driver = driver_of(speaker)
    mass_g = driver.moving_mass_kg * 1000
    area_cm2 = driver.area_m2 * 1e4
    air_g = air_load_kg(driver.area_m2) * 1000
    if air_g <= mass_g <= HEAVIEST_G_PER_CM2 * area_cm2:
        return
    free_air = ""
    if mass_g > air_g and speaker.sensitivity_baffle:
        free_air = ", or write sensitivity_baffle = false if it was measured in free air"
    yield moving_mass.finding(
        Weight.WARNING,
        "speaker",
        f"its sensitivity gives a moving mass of {amount(mass_g, 'g')},"
        f" {amount(mass_g / area_cm2, 'g', 2)} for each cm^2 of its cone",
        f"from {amount(air_g, 'g', 2)}, the air that moves with it, to {HEAVIEST_G_PER_CM2:g} g for"
        " each cm^2",
        "Check sensitivity_db, and the power or voltage and the distance that it is stated"
        f" for{free_air}.",
        {
            "m": f"{number(mass_g / area_cm2, 4)} g/cm^2",
            "M": f"{number(mass_g, 4)} g",
            "S": f"{number(area_cm2, 4)} cm^2",
            "air": f"{number(air_g)} g",
        },
    )


@check(
    SPEAKER,
    "sound.free_air",
    "Was the sensitivity measured without a baffle?",
    rule=(
        "In free air the back of a small speaker cancels most of the sound of its front. That loss"
        f" is added back, for a path round the frame of {PATH_DIAMETERS:.2g} diameters of the"
        " diaphragm and the frequencies at which such speakers are measured. A note wherever that"
        " is done."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "The cancelling is that of two opposite sources. The length of the path differs with the"
        f" frame, which leaves {PATH_UNCERTAINTY_DB:g} dB either way; this is counted in every"
        " level. It holds for a prop that closes off the back of its speaker."
    ),
    formula="{baffle} = {stated} + {lost}",
    symbols={
        "baffle": "sensitivity in a baffle, in dB",
        "stated": "sensitivity_db of the speaker, in dB",
        "lost": "loss by cancelling in free air, in dB",
    },
)
def free_air(speaker: Speaker) -> Iterator[Finding]:
    if speaker.sensitivity_baffle or speaker.sensitivity_db is None:
        return
    lost_db = lost_in_free_air_db(speaker)
    yield free_air.finding(
        Weight.NOTE,
        "speaker",
        f"its sensitivity was measured in free air; in a baffle it counts as {fixed(lost_db)}"
        f" ±{PATH_UNCERTAINTY_DB:g} dB higher",
        "",
        "Measure it in the prop, or ask its maker for the sensitivity in a baffle.",
        {
            "baffle": f"{speaker.sensitivity_db + lost_db:.1f} dB",
            "stated": f"{speaker.sensitivity_db:.1f} dB",
            "lost": f"{fixed(lost_db, 1)} dB",
        },
    )


@check(
    SPEAKER,
    "sound.chamber",
    "Does the file say what is behind the speaker?",
    rule=(
        "The air in a chamber is a second spring behind the cone: the smaller the chamber, the"
        " higher the resonance and the weaker the lows. A note where a resonance in free air is"
        " given and no chamber."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence="Without a chamber in the file the lows may be off by many dB.",
    symbols={"fs": "resonance used, in Hz"},
)
def chamber(speaker: Speaker) -> Iterator[Finding]:
    if speaker.free_resonance_hz is None or speaker.chamber_ml is not None:
        return
    resonance = f"{mounted_resonance_hz(speaker):.0f} Hz"
    yield chamber.finding(
        Weight.NOTE,
        "speaker",
        f"chamber_ml is missing, so its resonance counts as in free air, {resonance}",
        "",
        "Give chamber_ml: a small chamber raises the resonance and weakens the lows; with an open"
        " back the sound from behind the cone cancels them.",
        {"fs": resonance},
    )


@check(
    SPEAKER,
    "sound.small_chamber",
    "Is the chamber too small for the speaker's lows?",
    rule=(
        "The air of the chamber stiffens the cone. A warning where that raises its resonance above"
        f" {HIGHEST_RESONANCE_HZ:g} Hz: below the resonance the sound falls by 12 dB an octave, so"
        " little but hiss is left."
    ),
    source=f"closed-box relation of Small (1972); limit: {PRACTICE}",
    kind="common practice",
    confidence="The formula is good for a stiff, airtight chamber. The limit is a rule of thumb.",
    formula="{f} = {fs} * sqrt(1 + {Vas} / {V})",
    symbols={
        "f": "resonance in the chamber, in Hz",
        "fs": "resonance in free air, in Hz",
        "Vas": "air as stiff as its suspension, in ml",
        "V": "chamber_ml of the speaker, in ml",
    },
)
def small_chamber(speaker: Speaker) -> Iterator[Finding]:
    resonance_hz = mounted_resonance_hz(speaker)
    if speaker.chamber_ml is None or resonance_hz <= HIGHEST_RESONANCE_HZ:
        return
    driver = driver_of(speaker)
    springy_ml = driver.equivalent_volume_m3 * 1e6
    rise = (HIGHEST_RESONANCE_HZ / driver.resonance_hz) ** 2 - 1
    if rise > 0:
        remedy = f"Give it {amount(springy_ml / rise, 'ml')} of air or more"
    else:
        remedy = "Choose a speaker with a lower resonance"
    yield small_chamber.finding(
        Weight.WARNING,
        "speaker",
        f"{amount(resonance_hz, 'Hz')} is its resonance in a chamber of"
        f" {quantity(speaker.chamber_ml, 'ml')}",
        f"{HIGHEST_RESONANCE_HZ:g} Hz",
        f"{remedy}; below its resonance little is heard.",
        {
            "f": f"{number(resonance_hz)} Hz",
            "fs": f"{number(driver.resonance_hz, 6)} Hz",
            "Vas": f"{number(springy_ml, 6)} ml",
            "V": f"{speaker.chamber_ml:g} ml",
        },
    )


@check(
    FILE,
    "sound.generic",
    "Is a part described only by a generic kind?",
    rule=(
        "Where the file names a kind of speaker or amplifier, the figures of a common part of that"
        " kind are used. A note for each."
    ),
    source="generic parts of this program",
    kind="data sheets",
    confidence="Your own part may differ by 3 dB, or its resonance by 20 %.",
)
def generic(described: Described) -> Iterator[Finding]:
    """Parts whose figures are those of their kind."""
    sequence = described.sequence
    for table, kind, part in (
        ("speakers", "speaker", sequence.speaker),
        ("amplifiers", "amplifier", sequence.amplifier),
    ):
        if part is not None and part.part is not None:
            yield generic.finding(
                Weight.NOTE,
                kind,
                f"a generic {part.part}",
                "",
                "Give the figures of your own data sheet; they replace the generic ones.",
                part_source=sound_parts()[table][part.part]["source"],
            )


@check(
    FILE,
    "sound.bits",
    "Does the board's sound output have enough bits?",
    rule=(
        "Each bit halves the steps of the output, and so its noise. A note where the noise is less"
        f" than {QUIET_DB:g} dB below full scale."
    ),
    source=f"6.02 dB a bit and 1.76 dB (textbook, full-scale sine); limit: {PRACTICE}",
    kind="a handbook",
    confidence=(
        "The formula is exact for an ideal output; a real one is noisier. Whether it is heard"
        " depends on the sounds."
    ),
    formula="{S} = 6.02 dB * {b} + 1.76 dB",
    symbols={"S": "full scale over noise, in dB", "b": "sound_bits of the board"},
)
def bits(described: Described) -> Iterator[Finding]:
    """Noise of the steps of the output."""
    sound_bits = described.sequence.board.sound_bits
    ratio_db = quantisation_ratio_db(sound_bits)
    if ratio_db >= QUIET_DB:
        return
    yield bits.finding(
        Weight.NOTE,
        "board",
        f"with {sound_bits} bits of sound output the noise is {ratio_db:.0f} dB below full scale",
        f"{QUIET_DB:g} dB",
        "Use an output of 10 bits or more, or keep the clips near full scale.",
        {"S": f"{ratio_db:.1f} dB", "b": f"{sound_bits}"},
    )


@check(
    LOUDEST,
    "sound.speaker_power",
    "Does the speaker get more power than it can take?",
    rule=(
        "The power is that of the amplifier's voltage in a resistor of the speaker's impedance,"
        f" averaged over {COIL_HEATING_S:g} s, a guess at how fast a coil heats up. A finding where"
        " the hottest such time is above the speaker's rating."
    ),
    source="the speaker's rating in the prop file",
    kind="your own files",
    confidence=(
        "On the safe side: around its resonance a speaker takes less than such a resistor. Makers"
        " rate power in different ways."
    ),
    formula="{P} = {V}^2 / {Z}",
    symbols={
        "P": "power over the hottest second, in W",
        "V": "rms voltage in that second, in V",
        "Z": "impedance of the speaker, in ohm",
        "Prated": "its rated power, in W",
    },
    measure=lambda loud: loud.levels.speaker_highest_power_w,
    limit=lambda sequence, supply: sequence.speaker and sequence.speaker.rated_power_w,
)
def speaker_power(loud: Loudness) -> Iterator[Finding]:
    """Power over the speaker's rating."""
    power_w = loud.levels.speaker_highest_power_w
    speaker = loud.speaker
    if power_w <= speaker.rated_power_w:
        return
    yield speaker_power.finding(
        Weight.WARNING,
        "speaker",
        f"{amount(power_w, 'W')} over the hottest second",
        f"{speaker.rated_power_w:g} W rated power",
        "Lower the gain, or choose a speaker that takes more power: this one may overheat.",
        {
            "P": f"{number(power_w)} W",
            "V": f"{number(math.sqrt(power_w * speaker.impedance_ohm))} V",
            "Z": f"{speaker.impedance_ohm:g} ohm",
            "Prated": f"{speaker.rated_power_w:g} W",
        },
    )


@check(
    LOUDEST,
    "sound.excursion",
    "Is there excessive cone travel?",
    rule=(
        "Cone travel rises with the voltage; below resonance, the lows move the cone most. It is"
        " worked out from the amplifier's output, with the chamber's air as a spring. A finding"
        " where the peak travel from rest is above excursion_mm."
    ),
    source="the speaker in the prop file",
    kind="your own files",
    confidence=(
        "As uncertain as a level: s either way. The model assumes that travel is proportional to"
        " voltage. Near its limit a real cone moves less, and distorts."
    ),
    formula="{x} > {xmax}",
    symbols={
        "x": "peak travel from rest, in mm",
        "s": "uncertainty, either way, in dB",
        "xmax": "excursion_mm of the speaker, in mm",
    },
    measure=lambda loud: loud.levels.excursion_peak_mm,
    limit=lambda sequence, supply: sequence.speaker and sequence.speaker.excursion_mm,
)
def excursion(loud: Loudness) -> Iterator[Finding]:
    """A cone that is moved further than it may go."""
    peak_mm = loud.levels.excursion_peak_mm
    most_mm = loud.speaker.excursion_mm
    spread = f"{loud.levels.uncertainty_db:.1f} dB"
    if most_mm is None or peak_mm <= most_mm:
        return
    yield excursion.finding(
        Weight.WARNING,
        "speaker",
        f"peak cone travel {peak_mm:.2f} mm from rest (±{spread})",
        f"{most_mm:g} mm",
        "Filter out the lows below the speaker's resonance (high_pass_hz), lower the gain, or"
        " choose a smaller chamber: this cone distorts and may tear.",
        {"x": f"{peak_mm:.2f} mm", "s": spread, "xmax": f"{most_mm:g} mm"},
    )


@check(
    LOUDEST,
    "sound.distance",
    "Is a listener too close for the level to be known?",
    rule=(
        "Twice the distance lowers the level by 6 dB, but not close to the speaker. A note for each"
        " place closer than 5 cm."
    ),
    source=PRACTICE,
    kind="common practice",
    confidence=(
        "It is certain that the level is a guess there; the distance at which that begins depends"
        " on the size of the cone."
    ),
    formula="{d} < 5 cm",
    symbols={"d": "distance of the place, in cm"},
)
def distance(loud: Loudness) -> Iterator[Finding]:
    """Places too close for the model."""
    for name, level in loud.levels.at.items():
        if not level.inside_model:
            yield distance.finding(
                Weight.NOTE,
                f"level at {name}",
                f"{level.distance_m * 100:.1f} cm from the speaker",
                "5 cm; closer than that, the level no longer follows the distance",
                "Measure the level there.",
                {"d": f"{level.distance_m * 100:.1f} cm"},
            )
