"""Lamps that get other numbers and change groups: the text changes there alone, in one step, and
no channel is lost or given twice.
"""

import tomllib
from itertools import permutations
from typing import Any

import pytest
from bench_client import Answer, Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fxseq.bench import Desk
from fxseq.bench.lamps import lamp_changes
from fxseq.sequence import FxError, channels_of

VENTS_MM = [[55, 66], [65, 66], [75, 66], [85, 66], [95, 66], [105, 66]]
PAIRED = """format = 1
title = "Pairs"
board = { channels = 9 }
inputs.button = {}

[groups.eyes]                 # two on each channel
first_channel = 1
channels = 3
leds = 6
colour = "red"
forward_voltage_v = 2.0
current_ma = 10
places_mm = [
    [1, 1],  # left
    [2, 1],
    [3, 1],  # right
    [4, 1],
    [5, 1],
    [6, 1],
]

[groups.spare]                # nothing lights it
first_channel = 6             # 4 and 5 are free
channels = 2
leds = 4
colour = "green"
forward_voltage_v = 2.0
current_ma = 10

# ---- Sounds ----

[effects.look]
lights = [{ group = "eyes", fade = "on" }]

[fades.on]
segments = [{ shape = "step", to_percent = 100, length_ms = 40 }]

[triggers.look]
mode = "once"
input = "button"
effects = ["look"]
"""


@pytest.fixture
def pairs(serve, tmp_path) -> Client:
    file = tmp_path / "pairs.toml"
    file.write_text(PAIRED)
    return serve(file)


def lamps(client: Client, **order: Any) -> Answer:
    return client.post("/api/lamps", order)


def saved(client: Client) -> str:
    client.post("/api/save")
    return client.file.read_text()


def changed_lines(client: Client, before: str) -> tuple[list[str], list[str]]:
    """Lines that are gone, and lines that have come."""
    old = before.splitlines()
    new = saved(client).splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_lamps_share_out_their_numbers_in_the_order_given(demo: Client) -> None:
    assert lamps(demo, group="vents", order=[5, 2, 3]).status == 200
    wanted = [VENTS_MM[0], VENTS_MM[4], VENTS_MM[1], VENTS_MM[3], VENTS_MM[2], VENTS_MM[5]]
    assert tomllib.loads(saved(demo))["groups"]["vents"]["places_mm"] == wanted
    shown = [lamp for lamp in demo.get("/api/prop").json["lamps"] if lamp["group"] == "vents"]
    assert [(lamp["channel"], lamp["x_mm"]) for lamp in shown] == [
        (24 + at, place[0]) for at, place in enumerate(wanted)
    ]


def test_numbers_in_a_list_change_their_lines_alone(pairs: Client) -> None:
    assert lamps(pairs, group="eyes", order=[3, 1]).status == 200
    assert saved(pairs) == PAIRED.replace("[1, 1],  # left", "[3, 1],  # left", 1).replace(
        "    [3, 1],  # right", "    [1, 1],  # right", 1
    )


def test_lamps_join_a_group_and_all_channels_stay_given_once(demo: Client) -> None:
    before = demo.file.read_text()
    assert lamps(demo, group="lens", lamps=[24, 3], into="oil_gauge").status == 200
    gone, come = changed_lines(demo, before)
    groups = tomllib.loads(demo.file.read_text())["groups"]
    shown = {group["name"]: group["first"] for group in demo.get("/api/prop").json["groups"]}
    assert [(shown[name], group["channels"], group["leds"]) for name, group in groups.items()] == [
        (0, 22, 22),
        (22, 6, 6),
        (28, 14, 14),
    ]
    assert not any("first_channel" in group for group in groups.values())  # they are counted on
    assert groups["oil_gauge"]["places_mm"][-2:] == [[69.647, 89.363], [100, 93.359]]
    assert "ring_mm" not in groups["lens"] and len(groups["lens"]["places_mm"]) == 22
    assert {line.split()[0] for line in gone} == {
        "ring_mm",
        "line_mm",
        "channels",
        "leds",
    } and "[groups.vents]" not in come
    assert (
        "# the bases of 24 transistors" in demo.file.read_text()
        and "# ---- Sounds: made by" in demo.file.read_text()
    )


@pytest.mark.parametrize("leds", [3, 9])
def test_lamps_are_counted_up_and_down_and_the_groups_behind_make_room(
    demo: Client, leds: int
) -> None:
    before = demo.file.read_text()
    assert lamps(demo, group="vents", leds=leds).status == 200
    gone, come = changed_lines(demo, before)
    assert (gone, come) == (["channels = 6", "leds = 6"], [f"channels = {leds}", f"leds = {leds}"])
    groups = demo.get("/api/prop").json["groups"]
    assert [(group["first"], group["channels"]) for group in groups] == [
        (0, 24),
        (24, leds),
        (24 + leds, 12),
    ]


def test_of_a_list_of_places_the_last_go_and_more_come_in_line_with_them(pairs: Client) -> None:
    assert lamps(pairs, group="eyes", leds=4).status == 200
    text = saved(pairs)
    assert "    [4, 1],\n]" in text and "# left" in text and "# right" in text
    groups = tomllib.loads(text)["groups"]
    assert (groups["eyes"]["channels"], groups["spare"]["first_channel"]) == (2, 5)
    assert lamps(pairs, group="eyes", leds=10).status == 422  # the board has nine channels
    assert lamps(pairs, group="eyes", leds=8).status == 200
    assert tomllib.loads(saved(pairs))["groups"]["eyes"]["places_mm"][3:] == [
        [4, 1],
        [5, 1],
        [6, 1],
        [7, 1],
        [8, 1],
    ]
    answer = lamps(pairs, group="eyes", leds=7)
    assert answer.status == 422 and answer.found == "7 LEDs do not fill whole channels"
    for wrong in (0, 2001, True, "4", 2.5):
        assert lamps(pairs, group="eyes", leds=wrong).status == 422


def test_lamps_are_copied_behind_the_last_of_their_group(demo: Client) -> None:
    assert lamps(demo, group="vents", lamps=[6, 1], by_mm=[0, 10]).status == 200
    group = tomllib.loads(saved(demo))["groups"]["vents"]
    assert (group["channels"], group["leds"]) == (8, 8)
    assert group["places_mm"] == [*VENTS_MM, [105, 76], [55, 76]]
    assert lamps(demo, group="vents", lamps=[1], by_mm=["0", 10]).status == 400
    assert lamps(demo, group="vents", lamps=[1], by_mm=[0, 900]).status == 422


@pytest.mark.parametrize(
    ("group", "key", "wanted"),
    [
        ("vents", "line_mm", {"from_mm": [61, 72], "to_mm": [111, 72]}),
        ("lens", "ring_mm", {"centre_mm": [90, 138], "radius_mm": 40, "first_at_deg": -90}),
    ],
)
def test_a_copy_of_a_group_lies_beside_it(
    demo: Client, group: str, key: str, wanted: dict[str, Any]
) -> None:
    lamps(demo, group="lens", leds=8)  # the board has no room for two of the other kind
    demo.post("/api/parts", {"do": "copy", "kind": "groups", "name": group})
    groups = tomllib.loads(saved(demo))["groups"]
    assert groups[f"{group}_2"][key] == wanted


def test_a_lamp_that_moves_down_moves_the_groups_between_up(demo: Client) -> None:
    assert lamps(demo, group="oil_gauge", lamps=[1], into="lens").status == 200
    groups = demo.get("/api/prop").json["groups"]
    assert [(group["name"], group["first"], group["channels"]) for group in groups] == [
        ("lens", 0, 25),
        ("vents", 25, 6),
        ("oil_gauge", 31, 11),
    ]
    lens = [lamp for lamp in demo.get("/api/prop").json["lamps"] if lamp["group"] == "lens"]
    assert (lens[-1]["colour"], lens[-1]["x_mm"], lens[-1]["y_mm"]) == ("amber", 47, 218)


def test_a_new_group_is_like_the_one_it_came_from_and_stands_behind_the_others(
    demo: Client,
) -> None:
    assert lamps(demo, group="vents", lamps=[6, 1], new="tips").status == 200
    text = saved(demo)
    assert """
[groups.tips]
first_channel = 28
channels = 2
leds = 2
size_mm = 3
colour = "blue"
forward_voltage_v = 3.2
current_ma = 15
merge = "latest"
places_mm = [
    [105, 66],
    [55, 66],
]

# ---- Sounds: made by make_clips.py ----
""" in text
    assert tomllib.loads(text)["groups"]["vents"]["channels"] == 4


def test_a_new_group_keeps_the_curve_of_its_leds(demo: Client) -> None:
    point = "second_point = { forward_voltage_v = 3.0, current_ma = 5 }"
    demo.file.write_text(
        demo.file.read_text().replace(
            "forward_voltage_v = 3.2\n", f"forward_voltage_v = 3.2\n{point}\n", 1
        )
    )
    demo.post("/api/reload")
    assert lamps(demo, group="vents", lamps=[1, 2], new="tips").status == 200
    groups = tomllib.loads(saved(demo))["groups"]
    assert (
        groups["tips"]["second_point"]
        == groups["vents"]["second_point"]
        == {
            "forward_voltage_v": 3,
            "current_ma": 5,
        }
    )


def test_a_change_of_groups_is_one_step(demo: Client) -> None:
    before = demo.file.read_text()
    for order in ({"into": "vents"}, {"new": "tips"}):
        assert lamps(demo, group="oil_gauge", lamps=[2, 4], **order).status == 200
        assert demo.post("/api/undo").json["can_undo"] is False
        assert saved(demo) == before


def test_the_current_of_the_groups_follows(demo: Client) -> None:
    def full_ma() -> dict[str, float]:
        prop = demo.get("/api/prop").json
        return {
            group["name"]: (
                group["current_ma"] * sum(lamp["group"] == group["name"] for lamp in prop["lamps"])
            )
            for group in prop["groups"]
        }

    assert full_ma() == {"lens": 480, "vents": 90, "oil_gauge": 48}
    lamps(demo, group="lens", lamps=[1, 2, 3, 4], into="oil_gauge")
    assert full_ma() == {"lens": 400, "vents": 90, "oil_gauge": 64}


def test_lamps_that_share_a_channel_move_together_and_gaps_stay(pairs: Client) -> None:
    answer = lamps(pairs, group="eyes", lamps=[1], into="spare")
    assert answer.status == 422 and answer.found == "1 of its LEDs do not fill whole channels"
    assert answer.json["faults"][0]["remedy"] == "Choose 2, or a multiple of it."
    assert lamps(pairs, group="eyes", lamps=[1, 3], into="spare").status == 200
    groups = tomllib.loads(saved(pairs))["groups"]
    assert groups["eyes"]["places_mm"] == [[2, 1], [4, 1], [5, 1], [6, 1]] and groups["spare"][
        "places_mm"
    ][-2:] == [[1, 1], [3, 1]]
    assert [(group["first_channel"], group["channels"]) for group in groups.values()] == [
        (1, 2),
        (5, 3),
    ]


def test_a_group_that_an_effect_lights_keeps_a_lamp(pairs: Client) -> None:
    answer = lamps(pairs, group="eyes", lamps=[1, 2, 3, 4, 5, 6], into="spare")
    assert (
        answer.status == 422
        and answer.found == "no lamp would be left in it, but the effects 'look' light it"
    )
    assert pairs.get("/api/prop").json["revision"] == 1


def test_a_group_that_nothing_lights_goes_with_its_last_lamp_and_leaves_the_remarks_between(
    pairs: Client,
) -> None:
    assert lamps(pairs, group="spare", lamps=[1, 2, 3, 4], into="eyes").status == 200
    text = saved(pairs)
    assert "spare" not in text and "# ---- Sounds ----" in text and "[1, 1],  # left" in text
    assert (
        tomllib.loads(text)["groups"]["eyes"]["channels"],
        tomllib.loads(text)["groups"]["eyes"]["leds"],
    ) == (5, 10)


@pytest.mark.parametrize(
    ("order", "found"),
    [
        ({"order": []}, "these are not lamps of this group"),
        ({"order": [1, 1]}, "these are not lamps of this group"),
        ({"order": [0, 1]}, "these are not lamps of this group"),
        ({"order": [1, 7]}, "these are not lamps of this group"),
        ({"order": [True, 2]}, "these are not lamps of this group"),
        ({"order": "12"}, "these are not lamps of this group"),
        ({"lamps": [1], "into": "vents"}, "that is not another group"),
        ({"lamps": [1], "into": "sails"}, "that is not another group"),
        ({"lamps": [7], "into": "lens"}, "these are not lamps of this group"),
        ({"lamps": [1]}, "'new' is missing or not text"),
        ({"lamps": [1], "new": "lens"}, "there is a group 'lens' already"),
        ({"lamps": [1], "new": "No name"}, "is not a usable name"),
    ],
)
def test_what_cannot_be_is_refused(demo: Client, order: dict[str, Any], found: str) -> None:
    answer = lamps(demo, group="vents", **order)
    assert (
        answer.status in (400, 422)
        and found in answer.found
        and demo.get("/api/prop").json["revision"] == 1
    )


def test_leds_of_other_strings_do_not_join(demo: Client) -> None:
    assert demo.edit("groups", "vents", "leds", value=12).status == 200
    answer = lamps(demo, group="lens", lamps=[1], into="vents")
    assert (
        answer.status == 422 and answer.found == "it has 2 LEDs on each channel, and 'lens' has 1"
    )


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_change_of_groups_keeps_every_lamp_and_no_channel_is_given_twice(
    prop_file, data
) -> None:
    """With one LED a channel: the places of all lamps and the number of channels stay, and what
    each lamp hangs on is its own.
    """
    desk = Desk(prop_file)
    for step in range(3):
        sequence = desk.now.prop.sequence
        group, into = data.draw(st.sampled_from(list(permutations(sequence.groups, 2))))
        chosen = data.draw(
            st.lists(
                st.integers(1, sequence.groups[group].leds), min_size=1, max_size=6, unique=True
            )
        )
        body = {"group": group, "lamps": chosen} | data.draw(
            st.sampled_from([{"into": into}, {"new": f"new_{step}"}])
        )
        try:
            after = desk.edit(lamp_changes(body, desk.now)).prop.sequence
        except FxError:
            assert len(chosen) == sequence.groups[group].leds
            continue
        given_channels = [channel for one in after.groups.values() for channel in channels_of(one)]
        assert (
            sorted(given_channels) == list(range(42))
            and sum(one.leds for one in after.groups.values()) == 42
        )
