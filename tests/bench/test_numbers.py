"""Key numbers are those that the command line prints; what is heard in the page is what the
physics says.
"""

import math

import numpy as np
import pytest
from bench_client import Client, news

from fxseq.acoustics import output_voltage_v, pressure_pa
from fxseq.advice import Break, Limit, TuneReport
from fxseq.bench import Desk, numbers
from fxseq.bench.listen import listening
from fxseq.bench.long_work import Abandoned
from fxseq.bench.numbers import RATES_PER_S, key_numbers, rates
from fxseq.bench.settings import KNOBS, settings
from fxseq.bench.worker import NumbersWorker
from fxseq.checks import findings, loud_in_words
from fxseq.power.circuits import fresh_v
from fxseq.runs import in_numbers, load_prop, perform
from fxseq.sequence import FxError
from fxseq.sequence.schema import alternatives


@pytest.fixture
def desk(prop_file) -> Desk:
    return Desk(prop_file)


def test_the_numbers_are_those_of_a_preview(desk: Desk) -> None:
    prop = load_prop(desk.path)
    run = perform(prop, prop.script()[0])
    told = key_numbers(desk.now)
    summary = in_numbers(run)
    assert told["level_db"]["hand"] == summary["levels"]["at"]["hand"]["lafmax_db"]
    assert told["loud_in_words"] == loud_in_words(run.heard.levels) != {}
    assert (told["mean_ma"], told["peak_ma"]) == (
        summary["current"]["mean_ma"],
        summary["current"]["peak_ma"],
    )
    assert (told["table_bytes"], told["flash_bytes"]) == (len(prop.compiled.data), 978944)
    assert told["findings"] == [finding.as_dict() for finding in findings(run)]


def test_hours_are_those_of_the_described_day(desk: Desk) -> None:
    prop = load_prop(desk.path)
    run_time = perform(prop, prop.script()[0]).run_time
    assert key_numbers(desk.now)["hours"] == run_time.hours.typical
    assert not key_numbers(desk.now)["hours_at_most"]
    desk.edit([(("board", "current_ma"), 2000), (("supplies", "cells", "minimum_v"), 1.0)])
    assert key_numbers(desk.now)["hours_at_most"]
    changed = {"cell": None, "cells_in_series": None, "voltage_v": 6.0, "maximum_current_ma": 1000}
    desk.edit([(("supplies", "cells", key), value) for key, value in changed.items()])
    assert key_numbers(desk.now)["hours"] is None


def test_a_prop_without_sound_parts_has_no_level(small: Client) -> None:
    told = small.get("/api/numbers").json
    heard = small.get("/api/listen").json
    assert told["loud_in_words"] == {}
    assert told["level_db"] == {"hand": None, "audience": None, "spread_db": None}
    assert heard == {
        "rate_hz": 22050,
        "gain_v_per_unit": None,
        "clip_v": None,
        "impulse": None,
        "level_at_full_scale_db": None,
    }


def test_rates_are_those_of_tune_with_the_least_to_spare_first(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    breaks = (Break(Limit.FLASHES, 2.3, 2.2, 3.5), Break(Limit.VOICES, 5.5, 5.4, 1))
    asked = []

    def tuned(prop, trigger: str, rates_per_s, told) -> TuneReport:
        asked.append((prop, tuple(rates_per_s)))
        return TuneReport(
            trigger,
            prop.sequence.triggers[trigger].rate_per_s,
            (),
            breaks,
            {},
            frozenset([Limit.FLASHES]),
        )

    monkeypatch.setattr(numbers, "tune", tuned)
    for trigger in ("slow_signal", "storm_signal"):
        desk.edit([(("triggers", trigger, "despite"), ["flashes"])])
    storm, slow = rates(desk.now.prop)
    assert asked == [(desk.now.prop, RATES_PER_S)] * 2
    assert (storm.trigger, storm.present_per_s, storm.fastest_per_s) == ("storm_signal", 7, 5.4)
    assert (slow.trigger, slow.present_per_s, slow.fastest_per_s) == ("slow_signal", 2, 5.4)
    assert [
        (each.limit, each.from_per_s, each.concerns, each.decided) for each in storm.breaks
    ] == [("flashes", 2.3, "the eye", True), ("voices", 5.5, "the sound", False)]


def test_rates_are_found_anew_only_where_something_counts(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    tuned = []

    def found(prop, trigger: str, rates_per_s, told) -> TuneReport:
        tuned.append(trigger)
        breaks = (Break(Limit.FLASHES, 2.3, 2.2, 3.5), Break(Limit.VOICES, 5.5, 5.4, 1))
        return TuneReport(trigger, 1.0, (), breaks)

    def after(*path: str, value: object) -> list[str]:
        tuned.clear()
        desk.edit([(path, value)])
        rates(desk.now.prop, kept=kept)
        return sorted(tuned)

    monkeypatch.setattr(numbers, "tune", found)
    kept: numbers.Kept = {}
    both = ["slow_signal", "storm_signal"]
    assert after("title", value="Lantern") == both
    assert after("triggers", "storm_signal", "rate_per_s", value=9) == ["slow_signal"]
    assert after("scripts", "show", "presses", value="tap lever @1") == []
    assert after("fades", "short_flash", "segments", 1, "length_ms", value=90) == both
    assert after("clips", "snap_a", "gain_db", value=-3) == both
    desk.edit([(("triggers", "storm_signal", "despite"), ["flashes"])])
    storm = next(rate for rate in rates(desk.now.prop, kept=kept) if rate.trigger != "slow_signal")
    assert storm.present_per_s == 9 and storm.breaks[0].decided


def test_findings_that_are_decided_are_told_as_such(desk: Desk) -> None:
    desk.edit([(("triggers", "storm_signal", "despite"), ["flashes"])])
    flashing = [
        finding
        for finding in key_numbers(desk.now)["findings"]
        if finding["check"] == "light.flash"
    ]
    assert {finding["decided"] for finding in flashing} == {"triggers.storm_signal.despite"}


def test_the_rate_comes_after_the_rest_and_is_told_unless_it_is_given_up(demo: Client) -> None:
    # As no other test has it: what was found of the same before would not be looked for again.
    demo.edit("fades", "short_flash", "segments", 1, "length_ms", value=93)
    with demo.listen() as page:
        first = demo.get("/api/numbers").json
        assert (first["rates_known"], first["rate"]) == (False, None)
        done = news(page, "rates")
        assert 0 <= done["done"] < 1 and done["words"] == "slow_signal"
        demo.post("/api/cancel", {"what": "rates"})
        assert news(page, "numbers") == 0  # none
        left = demo.get("/api/numbers").json
        assert left["rates_given_up"] and not left["rates_known"]
        demo.post("/api/rates")
        assert news(page, "numbers") == 2
    known = demo.get("/api/numbers").json
    assert known["rates_known"] and known["rate"] == known["rates"][0]
    assert {rate["trigger"] for rate in known["rates"]} == {"slow_signal", "storm_signal"}


def test_the_search_for_rates_makes_room_for_an_edit_but_not_for_a_save(
    demo: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_off: list[NumbersWorker] = []
    monkeypatch.setattr(NumbersWorker, "put_off", lambda worker: put_off.append(worker))
    demo.edit("listening", "audience_m", value=4)
    assert len(put_off) == 1
    assert demo.post("/api/save").json["dirty"] is False and len(put_off) == 1


def test_numbers_follow_an_edit(demo: Client) -> None:
    before = demo.get("/api/numbers").json
    demo.edit("listening", "audience_m", value=4)
    after = demo.get("/api/numbers").json
    # Half the distance: 6.02 dB more in a free field.
    assert after["revision"] == 2 and after["level_db"]["audience"] - before["level_db"][
        "audience"
    ] == pytest.approx(20 * math.log10(2), abs=0.01)


def test_a_press_script_at_fault_is_told(demo: Client) -> None:
    demo.edit("scripts", "show", "presses", value="tap nothing @1")
    answer = demo.get("/api/numbers")
    assert answer.status == 422 and "nothing" in answer.found
    assert demo.get("/api/prop").status == 200


def test_what_the_page_convolves_is_the_pressure_at_the_hand(desk: Desk) -> None:
    """Gain, clip and impulse as the page applies them, against the physics of the whole signal,
    in units of the level that is named.
    """
    prop = desk.now.prop
    heard = listening(desk.now.prop)
    sequence = prop.sequence
    noise = np.random.default_rng(1).normal(0, 9000, 22050).clip(-32768, 32767).astype(np.int16)
    volts = (noise / 32768 * heard["gain_v_per_unit"]).clip(-heard["clip_v"], heard["clip_v"])
    ours = np.convolve(volts, heard["impulse"])[: noise.size]
    theirs_v = output_voltage_v(
        noise, sequence.amplifier, fresh_v(prop.supply()[1]).typical, sequence.speaker.impedance_ohm
    )[0]
    theirs_pa = pressure_pa(
        theirs_v, 22050, sequence.speaker, sequence.listening.hand_m, sequence.listening.space
    )
    full_scale_pa = math.sqrt(2) * 20e-6 * 10 ** (heard["level_at_full_scale_db"] / 20)
    error = ours * full_scale_pa - theirs_pa
    # The last tenth of the band is where a causal impulse and the overlap-add differ.
    assert 10 * math.log10(np.mean(error**2) / np.mean(theirs_pa**2)) < -30


def test_the_loudest_sine_comes_out_at_full_scale(desk: Desk) -> None:
    heard = listening(desk.now.prop)
    gains = np.abs(np.fft.rfft(heard["impulse"], 1 << 15)) * heard["clip_v"]
    assert gains.max() == pytest.approx(1, rel=0.02)


@pytest.mark.parametrize("part", KNOBS)
def test_every_knob_is_a_key_of_its_part_within_its_range(part: type, prop_file) -> None:
    tables = {
        "Trigger": ("triggers", "x"),
        "Effect": ("effects", "x"),
        "Sound": ("effects", "x", "sounds", 0),
        "Light": ("effects", "x", "lights", 0),
        "Segment": ("fades", "x", "segments", 0),
        "Clip": ("clips", "x"),
        "Loop": ("clips", "x", "loop"),
        "Group": ("groups", "x"),
    }
    path = tables.get(part.__name__, (part.__name__.lower(),))
    for knob in KNOBS[part]:
        kinds = [
            kind
            for kind in alternatives((*path, knob.key))
            if kind.get("type") in ("number", "integer")
        ]
        assert kinds, knob
        least = kinds[0].get("minimum", kinds[0].get("exclusiveMinimum"))
        assert least <= knob.least < knob.most <= kinds[0]["maximum"], knob
        assert 0 < knob.step < knob.most - knob.least


def test_every_setting_can_be_turned_to_both_ends(desk: Desk) -> None:
    """But for those that another key forbids: a clip that ends before it starts, fades longer
    than the sound, a flicker upside down.
    """
    bound = {"start_ms", "end_ms", "fade_in_ms", "fade_out_ms", "low_percent", "to_percent"}
    one_of_each = {
        (setting.path[0], len(setting.path), setting.path[-1]): setting
        for setting in settings(desk.now.prop.sequence)
    }
    for setting in one_of_each.values():
        if setting.path[-1] in bound:
            continue
        for value in (setting.least, setting.most):
            desk.edit([(setting.path, int(value) if setting.path[-1] == "voices" else value)])
            [now] = [
                other for other in settings(desk.now.prop.sequence) if other.path == setting.path
            ]
            assert now.value == pytest.approx(value)
            if desk.can_undo:
                desk.undo()


def test_a_setting_that_is_taken_out_is_at_its_default_or_refused(desk: Desk) -> None:
    taken = set()
    refused = set()
    for setting in settings(desk.now.prop.sequence):
        try:
            desk.edit([(setting.path, None)])
        except FxError as error:
            assert setting.path[-1] in str(error)
            refused.add((setting.path[0], setting.path[-1], setting.is_required))
            continue
        [now] = [other for other in settings(desk.now.prop.sequence) if other.path == setting.path]
        assert now.value == setting.default and not setting.is_required
        taken.add(setting.path[-1])
    assert {"gain_db", "end_ms", "after_held_ms", "voices", "hand_m"} <= taken
    # The first is asked for by a rule of the mode alone, the second by every segment.
    assert {("triggers", "rate_per_s", False), ("fades", "to_percent", True)} <= refused


def test_what_a_file_cannot_heed_is_no_setting(desk: Desk) -> None:
    paths = {setting.path for setting in settings(desk.now.prop.sequence)}
    assert ("triggers", "storm_signal", "rate_per_s") in paths and (
        "triggers",
        "flare",
        "rate_per_s",
    ) not in paths
    assert (
        "fades",
        "cool",
        "segments",
        0,
        "to_percent",
    ) not in paths  # gives the channel back to the ambient layer
    assert ("clips", "hum", "fade_out_ms") not in paths  # a clip with a loop has no end


def test_rates_are_abandoned_as_soon_as_nobody_wants_them(desk: Desk) -> None:
    asked: list[float] = []

    def tell(done: float, trigger: str) -> None:
        asked.append(done)
        if len(asked) == 3:
            raise Abandoned

    with pytest.raises(Abandoned):
        rates(desk.now.prop, tell=tell)
    assert len(asked) == 3 and asked == sorted(asked)


def test_rates_of_what_was_turned_meanwhile_are_never_told(demo: Client) -> None:
    with demo.listen() as page:
        demo.get("/api/numbers")
        for rate in (8, 9, 10):
            demo.edit("triggers", "storm_signal", "rate_per_s", value=rate)
        assert news(page, "numbers") == 4
    [storm] = [
        rate for rate in demo.get("/api/numbers").json["rates"] if rate["trigger"] == "storm_signal"
    ]
    assert storm["present_per_s"] == 10
