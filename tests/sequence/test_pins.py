"""Pins of a ready-made board: as the file says, chosen where it does not, and what cannot be."""

from typing import get_args

import pytest

from fxseq.sequence import SequenceError, loads
from fxseq.sequence.board_parts import board_parts, number_of
from fxseq.sequence.model import Board
from fxseq.sequence.pins import joints_of, pin_uses

PICO = board_parts()["pico"]


def prop(board: str = "", more: str = "") -> str:
    return f"""
format = 1
title = "x"
board = {{ part = "pico"{board} }}
inputs.lever = {{}}
inputs.low_cells = {{ kind = "low_battery", low_v = 3.6 }}
selectors.ring = {{ positions = ["slow", "storm", "off"] }}
groups.lens = {{ channels = 3, leds = 3, colour = "amber", current_ma = 5 }}
groups.vents = {{ channels = 2, leds = 2, colour = "blue", current_ma = 5 }}
clips.crack = {{ file = "crack.wav" }}
{more}
"""


def placed(text: str) -> dict[str, list[int]]:
    """Pins by use, in the order in which they were chosen."""
    found: dict[str, list[int]] = {}
    for joint in joints_of(loads(text)):
        found.setdefault(joint.use, []).extend(joint.taken)
    return found


def faults(text: str) -> list[str]:
    with pytest.raises(SequenceError) as caught:
        loads(text)
    return [str(fault) for fault in caught.value.faults]


def test_file_may_name_every_board_and_no_other() -> None:
    annotation = Board.model_fields["part"].annotation
    assert set(get_args(get_args(annotation)[0])) == set(board_parts())


def test_pins_are_those_printed_on_the_board() -> None:
    # Pin-out of the board, from memory: GP0 is pin 1, GP15 pin 20, GP16 pin 21, GP28 pin 34.
    assert len(PICO.left) == len(PICO.right) == 20
    assert PICO.pins[2] == "GP2, pin 4" and PICO.pins[15] == "GP15, pin 20"
    assert PICO.pins[16] == "GP16, pin 21" and PICO.pins[28] == "GP28, pin 34"
    assert set(PICO.pins) == {*range(2, 23), 26, 27, 28, 29}
    assert [number_of(label) for label in ("GP7", "D13", "A0", "GND", "3V3")] == [
        7, 13, 14, None, None,
    ]  # fmt: skip


def test_pins_are_chosen_where_the_file_places_none() -> None:
    assert placed(prop()) == {
        "pwm": [18],
        "lights": [2, 3, 4, 5, 6],
        "contact": [7],
        "cells": [29],
        "position": [8, 9, 10],
    }


def test_what_is_chosen_keeps_clear_of_what_is_placed() -> None:
    text = prop(", pins = { sound = 3, amplifier = 2, volume = 26 }")
    assert placed(text) == {
        "pwm": [3],
        "amplifier": [2],
        "volume": [26],
        "lights": [4, 5, 6, 7, 8],
        "contact": [9],
        "cells": [29],
        "position": [10, 11, 12],
    }


def test_chain_takes_four_pins_and_i2s_three() -> None:
    found = placed(prop(', lights = "drivers", sound = "i2s"'))
    assert found["drivers"] == [2, 3, 4, 5] and found["i2s"] == [18, 19, 20]


def test_coded_selector_takes_a_pin_for_each_bit() -> None:
    text = prop().replace('"off"] }', '"off"], coded = true, pins = [10, 11] }')
    assert placed(text)["coded"] == [10, 11]


def test_board_has_as_many_channels_as_the_groups() -> None:
    assert loads(prop()).board.channels == 5
    assert loads(prop(", channels = 9")).board.channels == 9


def test_figures_of_the_board_are_those_of_how_it_is_used() -> None:
    by_pins, by_chain = (loads(prop(more)).board for more in ("", ', lights = "drivers"'))
    assert by_pins.dimming_hz == PICO.lights["pins"]["dimming_hz"]
    assert by_chain.dimming_hz == PICO.lights["drivers"]["dimming_hz"]
    assert loads(prop(", current_ma = 7")).board.current_ma == 7


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("lever = {}", "lever = { pin = 1 }", "pin is 1; allowed: 2 to 22 or 26 to 29 of the pico"),
        ("lever = {}", "lever = { pin = 29 }", "which the board itself joins to the supply"),
        ("lever = {}", "lever = { pin = 29 }", "leads to lever already"),
        ("current_ma = 5 }", "current_ma = 5, pin = 21 }", "pin is 21; allowed: 2 to 20 or 26 to 27"),
        ('"low_battery",', '"low_battery", pin = 9,', "which measures no voltage; allowed: 26, 27"),
        (", low_v = 3.6", "", "low_v is missing"),
        ('"off"] }', '"off"], pins = [7, 8] }', "pins has 2 pins; allowed: 3, one for each position"),
        ('"off"] }', '"off"], coded = true, pins = [7, 9] }', "allowed: 2 pins in a row"),
        ('"off"] }', '"off"], pins = [7, 8, 8] }', "leads to ring already"),
        ('part = "pico"', "channels = 5", "the board is not a ready-made one"),
        ('"pico"', '"pico", voices = 9', "voices is 9; allowed: at most 8 on the pico"),
        ("channels = 3, leds = 3", "channels = 30, leds = 30", "needs 30 free pins in a row"),
    ],
)  # fmt: skip
def test_what_cannot_be_joined_is_refused_with_its_line(old: str, new: str, said: str) -> None:
    text = prop().replace(old, new, 1)
    if "not a ready-made" in said:
        text = text.replace("lever = {}", "lever = { pin = 2 }")
    found = faults(text)
    assert any(said in fault for fault in found), found
    assert all(fault.startswith("sequence:") for fault in found)


def test_more_buttons_than_its_program_has_room_for_are_refused() -> None:
    more = "\n".join(f"inputs.b{n} = {{ pin = 2 }}" for n in range(PICO.most["inputs"]))
    assert any("at most 16 on the pico" in fault for fault in faults(prop(more=more)))


def test_every_pin_says_where_it_leads() -> None:
    uses = {use.pin: use for use in pin_uses(loads(prop(', lights = "shift_registers"')))}
    assert uses[2].leads_to.startswith("data: SER") and uses[2].label == "GP2, pin 4"
    assert uses[6].leads_to == "lever, to ground"
    assert uses[8].leads_to == "ring on storm, to ground"
    assert len(uses) == 10
    assert pin_uses(loads('format = 1\ntitle = "x"\nboard = {}')) == []


# A board with few pins, each for one use


NANO = board_parts()["nano"]


def small(board: str = "", more: str = "") -> str:
    text = prop(board, more).replace("pico", "nano")
    return text.replace('inputs.low_cells = { kind = "low_battery", low_v = 3.6 }\n', "")


def test_pins_of_the_small_board_are_those_printed_on_it() -> None:
    # Pin-out of the board, from memory: TX is pin 1, D2 pin 5, D13 pin 16, A0 pin 19, VIN pin 30.
    assert len(NANO.left) == len(NANO.right) == 15
    assert NANO.pins[2] == "D2, pin 5" and NANO.pins[13] == "D13, pin 16"
    assert NANO.pins[14] == "A0, pin 19" and NANO.right[0] == "VIN"
    assert set(NANO.pins) == {*range(2, 22)}


def test_pins_of_the_small_board_are_chosen_by_what_they_can() -> None:
    assert placed(small()) == {
        "pwm": [9, 10],
        "lights": [2, 3, 4, 5, 6],
        "contact": [14],
        "position": [15, 16, 17],
    }
    amplifier = 'amplifier = { output = "bridge", gain_db = 6, full_scale_input_v = 1 }'
    assert placed(small(more=amplifier)) == placed(small())


def test_sound_of_the_small_board_says_where_both_its_pins_lead() -> None:
    uses = {use.pin: use.leads_to for use in pin_uses(loads(small()))}
    assert "1 kohm" in uses[9] and "lower half" in uses[10]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("lever = {}", "lever = { pin = 2 }", "pin is 2; allowed: 14 to 19 of the nano"),
        ("lever = {}", "lever = { pin = 20 }", "pin is 20; allowed: 14 to 19 of the nano"),
        ("current_ma = 5 }", "current_ma = 5, pin = 8 }", "pin is 8; allowed: 2 to 6 or 11 of the nano"),
        ("current_ma = 5 }", "current_ma = 5, pin = 14 }", "pin is 14; allowed: 2 to 6 or 11"),
        ('"off"] }', '"off"], pins = [14, 15, 16] }', None),
        ('"off"] }', '"off"], pins = [14, 15, 15] }', "leads to ring already"),
        ("lever = {}", 'lever = { kind = "low_battery", low_v = 4.5 }', 'allowed: "button"'),
        ('"nano"', '"nano", lights = "shift_registers"', 'lights is "shift_registers"; allowed: "pins" on the nano'),
        ('"nano"', '"nano", sound = "i2s"', 'sound is "i2s"; allowed: "pwm" on the nano'),
        ('"nano"', '"nano", pins = { volume = 20 }', "the nano has no pin for the volume"),
        ('"nano"', '"nano", pins = { amplifier = 13 }', "the nano has no pin for the amplifier"),
        ('"nano"', '"nano", pwm_bits = 12', "pwm_bits is 12; allowed: at most 10 on the nano"),
        ('"nano"', '"nano", samples_per_frame = 21', "allowed: at most 16 on the nano"),
        ('"nano"', '"nano", counts = true', "counts is true, and the nano has no room to count"),
        ('"nano"', '"nano", voices = 3', "allowed: at most 2 on the nano"),
        ('"nano"', '"nano", flash_for_table_bytes = 4096', "allowed: at most 3456 on the nano"),
        ('"nano"', '"nano", codings = ["mulaw", "qoa"]', "codings has qoa; allowed: pcm16, mulaw or ima_adpcm on the nano"),
        ("channels = 3, leds = 3", "channels = 7, leds = 7", "channels is 9; allowed: at most 8 on the nano"),
        ("channels = 3, leds = 3", "channels = 8, leds = 8", "needs 8 free pins in a row"),
        ("channels = 3, leds = 3", "channels = 8, leds = 8, pin = 2", "fewer than 8 pins in a row on the nano"),
    ],
)  # fmt: skip
def test_what_the_small_board_cannot_do_is_refused_with_its_line(
    old: str, new: str, said: str | None
) -> None:
    text = small().replace(old, new, 1)
    if said is None:
        assert placed(text)["contact"] == [17]
        return
    found = faults(text)
    assert any(said in fault for fault in found), found
    assert all(fault.startswith("sequence:") and fault.split(":")[1].isdigit() for fault in found)
