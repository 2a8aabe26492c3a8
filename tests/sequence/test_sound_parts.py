"""Generic speakers and amplifiers fill in what a file does not say."""

from typing import get_args

import jsonschema
import pytest

from fxseq.sequence import json_schema, loads
from fxseq.sequence.parts import Amplifier, Speaker
from fxseq.sequence.sound_parts import sound_parts

SPEAKERS = sound_parts()["speakers"]
AMPLIFIERS = sound_parts()["amplifiers"]


def names_allowed(model: type) -> set[str]:
    return set(get_args(get_args(model.model_fields["part"].annotation)[0]))


def test_file_may_name_every_generic_part_and_no_other() -> None:
    assert names_allowed(Speaker) == set(SPEAKERS)
    assert names_allowed(Amplifier) == set(AMPLIFIERS)


@pytest.mark.parametrize("name", SPEAKERS)
def test_generic_speaker_is_a_whole_speaker(name: str) -> None:
    speaker = Speaker(part=name)
    # The effective diaphragm is smaller than the frame the name gives.
    assert 0.6 * float(name.split()[0]) < speaker.diameter_mm < 0.9 * float(name.split()[0])
    assert speaker.impedance_ohm == float(name.split(", ")[1].split()[0])
    assert speaker.excursion_mm is not None and speaker.resonance_hz is None


@pytest.mark.parametrize("entry", [*SPEAKERS.values(), *AMPLIFIERS.values()])
def test_generic_part_says_where_its_figures_are_from(entry: dict[str, object]) -> None:
    assert any(
        word in str(entry["source"])
        for word in ("data sheet", "practice", "as 28 mm", "text of a shop")
    )


def test_what_the_file_says_comes_before_the_generic_part() -> None:
    speaker = Speaker(part="28 mm, 8 ohm", sensitivity_db=84, rated_power_w=0.7)
    # The level at 1 W and 1 m is a convention of its own: power and distance of the generic figure
    # go with it.
    assert (
        speaker.sensitivity_db,
        speaker.sensitivity_power_w,
        speaker.sensitivity_distance_m,
    ) == (84, 1.0, 1.0)
    assert (speaker.rated_power_w, speaker.free_resonance_hz) == (
        0.7,
        SPEAKERS["28 mm, 8 ohm"]["free_resonance_hz"],
    )


def test_resonance_in_the_chamber_takes_the_place_of_that_in_free_air() -> None:
    speaker = Speaker(part="28 mm, 8 ohm", resonance_hz=900)
    assert (speaker.resonance_hz, speaker.free_resonance_hz, speaker.q_total) == (900, None, None)


def test_part_alone_describes_a_speaker_in_a_file() -> None:
    text = (
        'format = 1\ntitle = "Lamp"\n[board]\nchannels = 1\n[speaker]\npart = "40 mm, 4'
        ' ohm"\nchamber_ml = 60\n'
    )
    text += '[amplifier]\npart = "class D bridge, 5 V"\n'
    sequence = loads(text)
    assert sequence.speaker is not None and sequence.speaker.rated_power_w == 3.0
    assert sequence.amplifier is not None and sequence.amplifier.on_resistance_ohm == 0.48
    jsonschema.validate(
        {
            "format": 1,
            "title": "Lamp",
            "board": {"channels": 1},
            "speaker": {"part": "40 mm, 4 ohm"},
        },
        json_schema(),
    )


def test_part_filled_in_and_written_out_reads_the_same() -> None:
    for speaker in (
        Speaker(part="28 mm, 8 ohm"),
        Speaker(part="28 mm, 8 ohm", resonance_hz=900),
        Speaker(part="57 mm, 8 ohm", impedance_ohm=4),
    ):
        assert Speaker.model_validate(speaker.model_dump(exclude_none=True)) == speaker
