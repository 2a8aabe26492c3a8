"""The animated picture of the lamps."""

import io
from pathlib import Path

import numpy as np
import pytest
from drawn import flashing, lamp, played
from PIL import Image

from fxseq.hazards import COLOUR_RGB
from fxseq.plots import animation, animation_bytes
from fxseq.plots.animation import CAUTION_S, PICTURES_PER_S
from fxseq.plots.lamps import SMALL_AREA_PX, flashing_px, mean_shares, stage
from fxseq.plots.theme import encoded, linear
from fxseq.runs import Performance
from fxseq.sequence import Sequence, SequenceError

PICTURE = "[picture]\nwidth_mm = 100\nheight_mm = 100\n"
SLOW = "tap button @0.5, end @2"


def test_a_row_of_more_leds_than_a_picture_may_be_wide_is_drawn() -> None:
    group = {
        "first_channel": 0,
        "leds": 2000,
        "size_mm": 50,
        "colour": "red",
        "forward_voltage_v": 2,
        "current_ma": 1,
    }
    found = stage(
        Sequence.model_validate(
            {"format": 1, "title": "Row", "board": {"channels": 1}, "groups": {"row": group}}
        ),
        Path(),
    )
    assert len(found.lamps) == 1 and found.lamps[0].glow.max() > 0


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def pictures(data: bytes) -> list[tuple[np.ndarray, int]]:
    """Each picture as code values, shape (height, width, 3), with its delay in ms."""
    image = opened(data)
    found = []
    for index in range(image.n_frames):
        image.seek(index)
        found.append((np.asarray(image.convert("RGB")).astype(int), image.info["duration"]))
    return found


def at_lamp(picture: np.ndarray, run: Performance, x_mm: float, y_mm: float) -> np.ndarray:
    """Code values at a place of the prop: the stage is 310 dots high and in the middle, 10 dots
    below the top.
    """
    sequence = run.prop.sequence
    height, width = stage(sequence, Path()).unlit.shape[:2]
    left = (picture.shape[1] - width) // 2
    return picture[
        10 + int(y_mm / sequence.picture.height_mm * height),
        left + int(x_mm / sequence.picture.width_mm * width),
    ]


@pytest.fixture(scope="module")
def demo_gif(demo: Performance) -> bytes:
    return animation_bytes(demo)


def test_demo_is_small_enough_for_a_page(demo_gif: bytes):
    assert len(demo_gif) < 1_500_000
    assert 300 <= opened(demo_gif).size[1] <= 420


def test_demo_lasts_as_long_as_the_run_after_the_caution(demo: Performance, demo_gif: bytes):
    delays_ms = [delay for _, delay in pictures(demo_gif)]
    assert delays_ms[0] == CAUTION_S * 1000
    # The last picture may stand for less than its 40 ms; pictures that do not change are joined.
    assert sum(delays_ms[1:]) / 1000 == pytest.approx(demo.duration_s, abs=1 / PICTURES_PER_S)
    assert min(delays_ms) >= 1000 / PICTURES_PER_S
    assert all(delay % 10 == 0 for delay in delays_ms)


def test_demo_repeats_for_ever(demo_gif: bytes):
    assert opened(demo_gif).info["loop"] == 0


def test_same_run_gives_the_same_bytes(demo: Performance, demo_gif: bytes):
    assert animation_bytes(demo) == demo_gif


def test_a_run_within_the_limit_has_no_caution():
    run = played(flashing(["lamp"], head=PICTURE), SLOW)
    assert run.flashes.together.passes
    found = pictures(animation_bytes(run))
    assert found[0][1] == 1000 // PICTURES_PER_S
    assert sum(delay for _, delay in found) / 1000 == pytest.approx(
        run.duration_s, abs=1 / PICTURES_PER_S
    )


def test_caution_comes_first_where_one_group_alone_flashes_too_fast():
    presses = ", ".join(f"tap button @{0.5 + 0.2 * shot:g}" for shot in range(6))
    text = flashing(["lamp"], length_ms=80, head=PICTURE) + lamp("wall", 1, leds=200)
    run = played(text.replace("channels = 1 ", "channels = 2 "), presses)
    assert run.flashes.together.passes and not run.flashes.alone["lamp"].passes
    found = pictures(animation_bytes(run))
    assert found[0][1] == 1500
    still = found[0][0]
    first = found[1][0]
    assert (
        np.abs(still - first).max(axis=2).astype(bool).mean() > 0.5
    ), "the caution is a picture of its own"


@pytest.mark.parametrize("colour", ["amber", "blue", "white"])
def test_lamp_has_its_colour_at_its_place_while_it_is_lit(colour: str):
    run = played(
        flashing(["lamp"], head=PICTURE, colour=colour, size_mm=10, places_mm=[[30, 70]]), SLOW
    )
    found = pictures(animation_bytes(run, longest_s=1.0))
    lit = at_lamp(found[15][0], run, 30, 70)
    dark = at_lamp(found[5][0], run, 30, 70)
    full = encoded(np.array(COLOUR_RGB[colour])) * 255
    # 5 bits a colour and one palette for all: two steps of 8.
    assert np.abs(lit - full).max() <= 16
    assert dark.max() < 80
    assert (
        np.abs(at_lamp(found[15][0], run, 80, 20) - at_lamp(found[5][0], run, 80, 20)).max() <= 8
    ), "far from the lamp nothing changes"


def test_light_follows_the_mean_duty():
    # 60 % of lightness for a second, and from the middle of one picture to the middle of the next
    # but one.
    text = flashing(["lamp"], length_ms=1000, head=PICTURE, colour="white", size_mm=12).replace(
        "to_percent = 100", "to_percent = 60"
    )
    run = played(text, SLOW)
    share = mean_shares(run, np.array([0.6, 0.7]) * run.prop.compiled.table.frame_rate_hz)[0, 0]
    assert share == pytest.approx(((60 + 16) / 116) ** 3, abs=0.01)
    lit = at_lamp(pictures(animation_bytes(run))[20][0], run, 50, 50)
    # Above the lamp's own light lies the dim disc that marks it while dark.
    unlit = stage(run.prop.sequence, Path()).unlit
    expected = encoded(share + unlit[unlit.shape[0] // 2, unlit.shape[1] // 2]) * 255
    assert np.abs(lit - expected).max() <= 16


def test_mean_shares_are_exact_between_frames():
    run = played(flashing(["lamp"], length_ms=50), "tap button @0.5, end @1")
    (track,) = run.played.light
    first = track.frames[1]
    last = track.frames[2]
    shares = mean_shares(run, np.array([first - 2.5, first + 2.5, last, last + 10.0]))[:, 0]
    assert shares == pytest.approx([0.5, 1.0, 0.0])


def test_a_flash_shorter_than_a_picture_is_not_lost():
    run = played(flashing(["lamp"], length_ms=4, head=PICTURE, colour="white", size_mm=12), SLOW)
    places = np.array(
        [
            at_lamp(picture, run, 50, 50).max()
            for picture, _ in pictures(animation_bytes(run, longest_s=1.0))
        ]
    )
    # 4 of 40 ms: a tenth of the light, code value 89, on top of the dim disc.
    assert places.max() - np.median(places) > 25


def test_leds_of_one_channel_share_its_light():
    places = [[20, 50], [40, 50], [60, 50], [80, 50]]
    run = played(flashing(["lamp"], head=PICTURE, leds=4, size_mm=10, places_mm=places), SLOW)
    picture = pictures(animation_bytes(run, longest_s=1.0))[15][0]
    lit = [at_lamp(picture, run, *place) for place in places]
    assert all(spot[0] > 230 for spot in lit)


def test_window_starts_shortly_before_the_first_press_and_ends_in_time():
    run = played(flashing(["lamp"], head=PICTURE), "tap button @30, end @60")
    found = pictures(animation_bytes(run, longest_s=2.0))
    assert sum(delay for _, delay in found) == 2000
    at_s = np.cumsum([0, *(delay for _, delay in found)])[:-1] / 1000
    lit = [
        time_s
        for time_s, (picture, _) in zip(at_s, found, strict=True)
        if at_lamp(picture, run, 50, 50)[0] > 200
    ]
    assert lit[0] == pytest.approx(0.5, abs=1 / PICTURES_PER_S)


def test_twelve_seconds_at_the_most_by_default():
    run = played(
        flashing(["lamp"], head="[picture]\nwidth_mm = 400\nheight_mm = 20\n"),
        "tap button @1, end @40",
    )
    assert sum(delay for _, delay in pictures(animation_bytes(run))) == 12_000


def test_strip_marks_an_input_only_while_it_is_pressed():
    run = played(flashing(["lamp"], length_ms=2000, head=PICTURE), "hold button @0.5..1, end @2")
    found = pictures(animation_bytes(run))
    at_s = np.cumsum([0, *(delay for _, delay in found)])[:-1] / 1000
    middle = found[0][0].shape[0] - 44 + 8
    dots = np.array([picture[middle, 14] for picture, _ in found])
    pressed = np.abs(dots - dots[0]).max(axis=1) > 40
    assert pressed[(at_s >= 0.52) & (at_s < 0.96)].all()
    assert not pressed[(at_s < 0.46) | (at_s > 1.02)].any()


@pytest.mark.parametrize(
    "settings", [{"size_mm": 50, "leds": 9}, {"size_mm": 5, "leds": 400}, {"size_mm": 3, "leds": 1}]
)
def test_less_flashes_than_the_small_area_of_wcag(settings: dict):
    run = played(flashing(["lamp"], head=PICTURE, colour="white", **settings), SLOW)
    scene = stage(run.prop.sequence, Path())
    assert 0 < flashing_px(scene.lamps, scene.unlit.shape[:2]) <= SMALL_AREA_PX
    found = [picture for picture, _ in pictures(animation_bytes(run, longest_s=1.0))]
    dark, lit = (linear(found[at] / 255) @ [0.2126, 0.7152, 0.0722] for at in (2, 15))
    # The marks on the strip move as well: a few dots.
    assert np.count_nonzero(np.abs(lit - dark) >= 0.1) <= SMALL_AREA_PX + 200


def test_small_area_is_a_quarter_of_the_block_that_wcag_names():
    # Technique G19 of WCAG 2.2 gives 21 824 as the number of dots, a quarter of 341 x 256 (from
    # memory).
    assert SMALL_AREA_PX == 21_824


def test_demo_flashes_over_less_than_the_small_area(demo: Performance):
    scene = stage(demo.prop.sequence, demo.prop.path.parent)
    assert flashing_px(scene.lamps, scene.unlit.shape[:2]) < SMALL_AREA_PX


def test_makers_image_lies_under_the_lamps(tmp_path: Path):
    Image.fromarray(np.full((20, 20, 3), (250, 40, 40), dtype=np.uint8)).save(
        tmp_path / "shell.png"
    )
    run = played(flashing(["lamp"], head=PICTURE + 'image = "shell.png"\n'), SLOW, tmp_path)
    red, green, blue = pictures(animation_bytes(run))[0][0][60, 60]
    assert red > 60 > 2 * green and green == blue


def test_makers_photo_is_turned_as_it_says(tmp_path: Path):
    """Stored lying, with the first line at the right (orientation 6 of Exif 2.32, 4.6.4): its
    left side is seen at the top.
    """
    lying = Image.new("RGB", (60, 40), (200, 20, 20))
    lying.paste((20, 20, 200), (30, 0, 60, 40))
    turned = Image.Exif()
    turned[0x0112] = 6
    lying.save(tmp_path / "shell.png", exif=turned)
    run = played(flashing(["lamp"], head=PICTURE + 'image = "shell.png"\n'), SLOW, tmp_path)
    shown = pictures(animation_bytes(run))[0][0]
    top = shown[len(shown) // 4, 20]
    foot = shown[len(shown) * 3 // 4, 20]
    assert top[0] > 2 * top[2] and foot[2] > 2 * foot[0]


def test_image_that_cannot_be_read_is_named(tmp_path: Path):
    (tmp_path / "shell.png").write_bytes(b"no picture")
    for name in ("shell.png", "missing.png"):
        run = played(flashing(["lamp"], head=PICTURE + f'image = "{name}"\n'), SLOW, tmp_path)
        with pytest.raises(SequenceError) as caught:
            animation(run, tmp_path / "a.gif")
        assert str(tmp_path / name) in str(caught.value) and "picture.image" in str(caught.value)
    assert not (tmp_path / "a.gif").exists()


def test_groups_without_a_picture_lie_one_below_the_other():
    run = played(flashing(["first", "second", "third"], leds=4), SLOW)
    rows = [
        lamp.top + int(lamp.glow.max(axis=1).argmax())
        for lamp in stage(run.prop.sequence, Path()).lamps
    ]
    assert rows == sorted(rows) and min(np.diff(rows)) > 5
    assert len(pictures(animation_bytes(run, "light"))) > 10


def test_file_is_written(tmp_path: Path):
    run = played(flashing(["lamp"]), SLOW)
    animation(run, tmp_path / "lights.gif", "light")
    assert (tmp_path / "lights.gif").read_bytes() == animation_bytes(run, "light")
    assert [path.name for path in tmp_path.iterdir()] == ["lights.gif"]


def test_prop_without_lamps_is_refused():
    with pytest.raises(ValueError, match="without lamps"):
        animation_bytes(played(flashing([], sound=True), SLOW))


def test_run_of_one_frame_is_one_picture():
    run = played(flashing(["lamp"]), "end @0")
    assert len(pictures(animation_bytes(run, longest_s=0.001))) == 1
