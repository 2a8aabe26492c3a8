"""What a maker calls the keys and choices of a prop file: labels of forms, words of messages."""

import re

LABELS = {
    "after_held_ms": "held for at least",
    "at_ms": "starts at",
    "audience_m": "to the audience",
    "begin": "at the start",
    "beside": "other LEDs on the same resistor",
    "board": "board",
    "bulk_capacitor_ohm": "resistance of the capacitor",
    "bulk_capacitor_uf": "capacitor",
    "burst": "at least so many",
    "cell": "kind of cell",
    "centre_mm": "centre",
    "chamber_ml": "chamber",
    "channel": "side of a stereo file",
    "channels": "outputs",
    "carries_names": "keeps names",
    "choice": "order",
    "clip": "sound",
    "clock_mhz": "clock frequency",
    "coded": "coded switch",
    "coding": "how it is stored",
    "codings": "ways to store sounds",
    "coil_mh": "inductance of the coil",
    "coil_ohm": "resistance of the coil",
    "cone_area_cm2": "cone area",
    "contact": "how to reach you",
    "counts": "changes of counters",
    "current_ma": "current",
    "curve": "how a cell runs down",
    "despite": "limits it may break",
    "dimming_hz": "dimming frequency",
    "divider": "voltage divider",
    "driver_reference_v": "reference voltage of the driver",
    "dropout_v": "dropout voltage",
    "during": "then, again and again",
    "effects": "effects",
    "empty": "when it is empty",
    "end": "at the end",
    "end_ms": "ends at",
    "end_v": "empty at",
    "every_ms": "changes every",
    "feeds": "feeds",
    "first_at_deg": "first LED at",
    "first_channel": "first output",
    "first_delay_ms": "wait before the second",
    "fitted": "fitted to the board",
    "flash_for_table_bytes": "memory for the prop",
    "format": "file format",
    "forward_voltage_max_v": "greatest forward voltage",
    "forward_voltage_min_v": "least forward voltage",
    "free_resonance_hz": "resonance in free air",
    "from_mm": "from",
    "from_percent": "starts from",
    "full_scale_input_v": "input at full scale",
    "fuse_melting_a2s": "melting I2t of the fuse",
    "gain_db": "louder or softer by",
    "gain_spread_percent": "random loudness",
    "gap_ml": "air behind the plate",
    "gate_v": "gate voltage",
    "gauge": "shows the counter",
    "hand_m": "to the hand",
    "held_s_an_hour": "held in an hour",
    "high_pass_hz": "high-pass filter",
    "hole_mm": "diameter of a hole",
    "holes": "number of holes",
    "hours_a_day": "hours a day",
    "idle_current_ma": "current without sound",
    "image": "picture file",
    "input": "pressed by",
    "kind": "kind",
    "layer": "light layer",
    "leds": "LEDs",
    "leds_in_series": "LEDs in series",
    "length_ms": "length",
    "lights": "what the outputs are",
    "limit": "at most so many",
    "limit_to_dbfs": "hold peaks at",
    "line_mm": "on a line",
    "lockout_ms": "debounce time",
    "loop": "loop",
    "low_percent": "lowest level",
    "low_v": "low below",
    "match_to": "as loud as",
    "maximum": "full at",
    "maximum_current_ma": "greatest current",
    "maximum_heat_w": "greatest heat",
    "merge": "which light shows",
    "minimum_v": "works down to",
    "mode": "what a press does",
    "mosfet": "MOSFET",
    "needs": "only while not empty",
    "on_ohm": "resistance when on",
    "on_resistance_ohm": "resistance of the output",
    "open_v": "voltage without load",
    "outlet": "USB socket",
    "output_v": "output voltage",
    "own_current_ma": "current of its own",
    "part": "ready-made part",
    "peak_to_dbfs": "set the peak to",
    "pin_v": "voltage of an output",
    "pitch_spread_percent": "random pitch",
    "places_mm": "place by place",
    "presses": "presses",
    "processor": "processor",
    "pwm_bits": "dimming resolution",
    "q_electrical": "electrical Q, Qes",
    "q_mechanical": "mechanical Q, Qms",
    "q_total": "total Q",
    "ramp_shots": "reached after",
    "ramp_to_rate_per_s": "speeds up to",
    "rate_hz": "sample rate",
    "rate_per_s": "times a second",
    "release_ms": "dies away in",
    "remove_dc": "remove the DC offset",
    "resistance_ohm": "inner resistance",
    "ring_mm": "on a ring",
    "rms_to_dbfs": "set the mean level to",
    "samples_per_frame": "samples in a control step",
    "saturation_v": "saturation voltage",
    "second_point": "second point of the curve",
    "sensitivity_baffle": "sensitivity measured in a baffle",
    "series_ohm": "series resistance",
    "size_mm": "diameter of a lamp",
    "sound": "kind of sound output",
    "sound_bits": "sound resolution",
    "sounds": "sounds",
    "space": "where the sound goes",
    "stagger_ms": "from lamp to lamp",
    "start": "at power-up",
    "start_cue": "starts at the file's mark",
    "start_ms": "starts at",
    "switch": "switched by",
    "taps_an_hour": "taps in an hour",
    "threshold_v": "threshold voltage",
    "to_percent": "level",
    "tolerance_percent": "tolerance of the voltage",
    "trim_below_dbfs": "trim what is softer than",
    "used_percent": "charge used",
    "voices": "sounds at once",
    "wavelength_nm": "dominant wavelength",
    "when": "only while",
    "when_voices_run_out": "when too many sound",
}
"""By key. Others are called by their key without its unit."""

OF_TABLE = {
    "Board.counts": "counts what it does",
    "BoardPins.lights": "lights",
    "BoardPins.sound": "sound",
    "Effect.lights": "lights",
    "Clip.start_cue": "starts at the file's mark",
    "Group.pin": "first pin",
    "Neighbour.current_ma": "current of one of them",
    "Sequence.title": "name of the prop",
    "Sequence.rail_load_ohm": "other load",
    "Sequence.changeover": "from one supply to another",
}
"""Of keys that mean something else in that table."""

CHOICES = {
    "alkaline_9v": "alkaline, 9 V",
    "alkaline_aa": "alkaline AA",
    "always": "always, from power-up",
    "avr": "8-bit AVR",
    "class_ab": "class AB",
    "class_d": "class D",
    "cortex_m": "Arm Cortex-M",
    "ima_adpcm": "IMA ADPCM",
    "file": "the one that the file marks",
    "find": "one that is found for you",
    "i2s": "I2S",
    "li_ion": "lithium ion",
    "low_battery": "the board's own low-battery sensor",
    "lpc_rice": "LPC-Rice",
    "mosfet": "MOSFET",
    "mulaw": "mu-law",
    "nimh_aa": "NiMH AA",
    "on_off": "press for on, press again for off",
    "once": "once a press",
    "pcm16": "PCM, 16 bits",
    "pwm": "pulses",
    "qoa": "QOA",
    "repeat": "again and again while held",
    "usb": "USB of a computer",
    "usb_charger": "USB charger",
    "warm_white": "warm white",
    "while_held": "on while held",
    "whole": "all of it",
}
"""By value. Others are called by the value."""

_UNIT = re.compile(
    r"_(?:hz|ms|db|dbfs|percent|ma|mah|uf|v|ohm|mm|m|w|ml|g|mh|tm|cm2|mm_per_n|deg|a2s|nm|mhz)$"
)
_KEY = re.compile(r"\b[a-z]+(?:_[a-z0-9]+)+\b")
_NAMED = re.compile(r"'[a-z][a-z0-9_]*'")
_QUOTED = re.compile(r'"([a-z0-9_]+)"')
_SETTING = re.compile(r'\bset ([a-z_]+) = "([a-z0-9_]+)" in \[([a-z]+)\]')
_FOR_EDITORS = re.compile(r"[=\[`]|\b[Ww]rite\b")
"""A remedy that tells what to type into the file."""


def label_of(key: str, table: str = "") -> str:
    """What the key is called, with a small first letter."""
    return OF_TABLE.get(f"{table}.{key}") or LABELS.get(key) or _UNIT.sub("", key).replace("_", " ")


def choice_label(value: str) -> str:
    """What a choice is called."""
    return CHOICES.get(value) or value.replace("_", " ")


def plain(text: str, keys: frozenset[str]) -> str:
    """The text with keys, choices and names as they are called. keys: those that there are."""
    text = _NAMED.sub(lambda found: found[0].replace("_", " "), text.replace("`", ""))
    text = _KEY.sub(lambda found: _called(found[0], keys), text)
    return _QUOTED.sub(lambda found: f'"{choice_label(found[1])}"', text)


def _called(word: str, keys: frozenset[str]) -> str:
    if word not in keys:
        return CHOICES.get(word, word)
    return f"\N{LEFT DOUBLE QUOTATION MARK}{label_of(word)}\N{RIGHT DOUBLE QUOTATION MARK}"


def plain_remedy(text: str, keys: frozenset[str]) -> str:
    """The remedy, unless it tells what to write into the file and that is no choice of the page."""
    text = _SETTING.sub(
        lambda found: (
            f"choose {choice_label(found[2])} for {_called(found[1], keys)} of the {found[3]}"
        ),
        text,
    )
    return "" if _FOR_EDITORS.search(text) else plain(text, keys)
