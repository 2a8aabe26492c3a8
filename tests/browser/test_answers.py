"""Answers of the server that come late, in another order than they were asked for, in part, or
not at all.
"""

import json
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from bench_page import (
    GONE,
    LISTEN,
    Held,
    bench_of,
    copy_of_demo,
    page_at,
    placing,
    save,
    until,
    until_holds,
)
from PIL import Image
from playwright.sync_api import Browser, Page, Route

from fxseq.player import TraceKind

STATUS = "document.querySelector('#status').textContent"
NO_ANSWER = f"{STATUS}.includes('The bench: it does not answer.')"
FIGURES = "document.querySelector('#figures').textContent"
STARTED = "reports.map(({ started }) => started).filter(Boolean)"
RATE = "Repeat rate, trigger Storm signal, in 1/s"
CURRENT = "LED current, group Lens, in mA"
START_MS = "Starts at, clip Dry, in ms"
END_MS = "Ends at, clip Dry, in ms"


@pytest.fixture
def sequence(tmp_path: Path) -> Path:
    return copy_of_demo(tmp_path)


@pytest.fixture
def page(browser: Browser, sequence: Path) -> Iterator[Page]:
    with bench_of(sequence) as address, page_at(browser, address, (*GONE, "422")) as page:
        yield page


def turn(page: Page, label: str, value: str) -> None:
    page.get_by_label(label, exact=True).evaluate(
        "(box, value) => { box.value = value; box.dispatchEvent(new Event('change')); }", value
    )


def told_elsewhere(page: Page, path: str, body: object) -> None:
    """What another tab asks of the bench, of which this page hears by the news alone."""
    assert (
        page.evaluate(
            """([path, body]) => fetch(path, { method: 'POST', body, headers: {
      Authorization: `Bearer ${sessionStorage.getItem('bench-token')}`, 'Content-Type': 'application/json' } }).then(({ status }) => status)""",
            [path, json.dumps(body)],
        )
        == 200
    )


def lose(page: Page, address: str) -> None:
    """The next answer of this address never comes."""
    page.route(address, lambda route: route.abort(), times=1)


def test_an_older_table_that_comes_after_a_newer_one_is_not_played(page: Page) -> None:
    table = Held(page, "**/api/table")
    told_elsewhere(
        page, "/api/edit", {"path": ["triggers", "storm_signal", "rate_per_s"], "value": 6}
    )
    table.wait()
    told_elsewhere(page, "/api/edit", {"path": ["groups", "lens", "current_ma"], "value": 12})
    until(page, f"{STARTED}.at(-1) === 3")
    table.let_go()
    turn(page, RATE, "5")  # goes once the first has been dealt with
    until(page, f"{STARTED}.at(-1) === 4")
    assert page.evaluate(STARTED) == [1, 3, 4]


def test_older_key_numbers_that_come_after_newer_ones_are_not_shown(page: Page) -> None:
    until(page, f"{FIGURES} && !{FIGURES}.includes('Trying rates')")
    numbers = Held(page, "**/api/numbers")
    turn(page, CURRENT, "12")
    numbers.wait()
    before = page.text_content("#figures")
    until(page, f"{FIGURES} !== {json.dumps(before)}")
    numbers.let_go(peak_ma=98765)
    page.wait_for_timeout(300)
    assert "98800" not in (page.text_content("#figures") or "")
    assert page.get_attribute("#figures", "aria-busy") == "false"


def test_key_numbers_that_never_come_are_not_waited_for_for_ever(page: Page) -> None:
    until(page, f"{FIGURES} && !{FIGURES}.includes('Trying rates')")  # else news of it would come
    lose(page, "**/api/numbers")
    turn(page, CURRENT, "12")
    until(page, NO_ANSWER)
    until(page, "document.querySelector('#figures').ariaBusy === 'false'")


def test_an_answer_that_breaks_off_is_told_as_none(page: Page) -> None:
    page.evaluate("""() => { const ask = fetch; window.fetch = async (path, options) => {
      const answer = await ask(path, options);
      if (path !== '/api/edit') return answer;
      window.fetch = ask;
      return new Response(new ReadableStream({ pull(part) { part.error(new TypeError('network error')); } }), { status: 200 });
    }; }""")
    turn(page, RATE, "6")
    until(page, NO_ANSWER)
    until(page, f"{STARTED}.at(-1) === 2")  # for the server has taken it


def test_a_table_that_is_lost_at_the_start_is_asked_for_again(page: Page) -> None:
    other = page.context.new_page()
    other.add_init_script(LISTEN)
    lose(other, "**/api/table")
    other.goto(page.url + "#t=" + page.evaluate("sessionStorage.getItem('bench-token')"))
    until(other, f"{STARTED}.length === 1")
    other.keyboard.press("f")
    until(other, f"traced({int(TraceKind.SHOT)}).length > 0")
    until(other, "document.querySelectorAll('.finding').length > 0")


def test_a_player_that_could_not_be_had_is_had_with_the_next_power_up(page: Page) -> None:
    other = page.context.new_page()
    other.add_init_script(LISTEN)
    other.add_init_script("""const add = AudioWorklet.prototype.addModule;
      let lost = 0; // once at the start, and again once the news has come
      AudioWorklet.prototype.addModule = function (...given) {
        lost += 1;
        return lost <= 2 ? Promise.reject(Error('The module did not come.')) : add.apply(this, given);
      };""")
    other.goto(page.url + "#t=" + page.evaluate("sessionStorage.getItem('bench-token')"))
    until(other, f"{STATUS} === 'The module did not come.'")
    until_holds(
        other, lambda: other.click("#restart") or other.evaluate(f"{STARTED}.length"), "it plays"
    )


def test_nothing_can_be_turned_before_the_prop_is_there(page: Page) -> None:
    other = page.context.new_page()
    other.add_init_script(LISTEN)
    prop = Held(other, "**/api/prop")
    other.goto(page.url + "#t=" + page.evaluate("sessionStorage.getItem('bench-token')"))
    prop.wait()
    box = other.locator("#restart").bounding_box()
    assert box
    other.mouse.click(box["x"] + 5, box["y"] + 5)
    other.wait_for_timeout(100)
    assert other.text_content("#status") == ""
    prop.let_go()
    until(other, f"{STARTED}.length === 1")
    other.click("#restart")
    until(other, f"{STARTED}.length === 2")


def test_a_save_in_one_tab_is_shown_in_the_other(page: Page) -> None:
    told_elsewhere(page, "/api/edit", {"path": ["groups", "lens", "current_ma"], "value": 12})
    until(page, "document.querySelector('#saved').textContent === 'not saved'")
    told_elsewhere(page, "/api/save", {})
    until(page, "document.querySelector('#saved').textContent === 'saved'")


def test_settings_of_which_another_tab_was_told_are_asked_for(page: Page) -> None:
    of_the_news = Held(page, "**/api/prop")
    # Beyond the usual range, which is then another one.
    told_elsewhere(page, "/api/edit", {"path": ["listening", "audience_m"], "value": 60})
    of_the_news.wait()
    turn(page, RATE, "6")
    until(page, "document.querySelector('#set-listening-audience_m').max === '60'")
    until(page, f"{STARTED}.at(-1) === 3")
    of_the_news.let_go()
    turn(page, RATE, "7")
    until(page, f"{STARTED}.at(-1) === 4")
    assert page.get_by_label(RATE, exact=True).input_value() == "7"


def test_a_setting_whose_answer_comes_after_the_news_of_it_is_shown_everywhere(page: Page) -> None:
    page.select_option("#clip", "dry")
    until(page, "document.querySelector('.wave').ariaLabel?.startsWith('Dry:')")
    answer = Held(page, "**/api/edit")
    turn(page, END_MS, "30")
    until(page, f"{STARTED}.at(-1) === 2")  # by the news
    answer.let_go()
    until(page, "document.querySelector('#clips').textContent.includes('In the table: 30 ms')")


def test_a_recording_whose_answer_comes_after_the_news_of_it_is_looked_at(
    page: Page, sequence: Path, tmp_path: Path
) -> None:
    (tmp_path / "gale.wav").write_bytes((sequence.parent / "clips/crack_a.wav").read_bytes())
    answer = Held(page, "**/api/clips")
    page.set_input_files("#new-clip", tmp_path / "gale.wav")
    until(
        page, "[...document.querySelectorAll('#clip option')].some(({ value }) => value === 'gale')"
    )
    assert page.input_value("#clip") != "gale"
    answer.let_go()
    until(page, "document.querySelector('#clip').value === 'gale'")


def test_a_value_that_a_clip_would_not_take_is_shown_back(page: Page) -> None:
    page.select_option("#clip", "dry")
    until(page, "document.querySelector('.wave').ariaLabel?.startsWith('Dry:')")
    turn(page, END_MS, "30")
    until(page, "document.querySelector('.wave').ariaLabel.includes('to 30 ms')")
    turn(page, START_MS, "40")  # behind the end
    until(page, "document.querySelector('#status').classList.contains('alarm')")
    until_holds(
        page,
        lambda: page.get_by_label(START_MS, exact=True).input_value() == "0",
        "the value in the file",
    )


def test_grips_of_another_clip_turn_nothing_until_its_recording_is_there(page: Page) -> None:
    until(page, "document.querySelector('.wave').ariaLabel")
    recording = Held(page, "**/api/clips/bell.wav")
    page.select_option("#clip", "bell")
    assert page.evaluate("document.querySelector('.wave-all').inert")
    recording.let_go()
    until(
        page,
        "document.querySelector('.wave').ariaLabel.startsWith('Bell:') &&"
        " !document.querySelector('.wave-all').inert",
    )


def test_the_heading_of_the_places_of_a_clip_is_none_of_them(page: Page) -> None:
    until(page, "document.querySelector('.wave').ariaLabel")
    page.locator("#clip-use").dispatch_event("change")  # its first line is chosen
    assert page.is_disabled("#undo")


def test_recordings_that_come_late_do_not_take_back_another_choice(page: Page) -> None:
    page.evaluate(
        """() => { window.sources = 0; window.AudioBufferSourceNode = class extends AudioBufferSourceNode {
      constructor(...given) { super(...given); sources += 1; } }; }"""
    )
    first = Held(page, "**/api/clips/*.wav")
    page.check("input[name=way][value=recorded]")
    first.wait()
    page.check("input[name=way][value=board]")
    with page.expect_response("**/api/clips/gust.wav"):  # the last of them
        first.let_go()
    page.wait_for_timeout(300)
    page.keyboard.press("f")
    until(
        page,
        f"traced({int(TraceKind.SHOT)}).length > 0 && playedSince(0) >"
        f" traced({int(TraceKind.SHOT)})[0].frame + 100",
    )
    assert page.evaluate("sources") == 0


def test_a_recording_that_was_lost_is_asked_for_again(page: Page) -> None:
    names = page.evaluate(
        "[...document.querySelectorAll('#clip option')].map(({ value }) => value)"
    )
    came: set[str] = set()
    page.on(
        "response",
        lambda answer: (
            came.add(answer.url.rsplit("/", 1)[1])
            if answer.ok and "/api/clips/" in answer.url
            else None
        ),
    )
    lose(page, f"**/api/clips/{names[-1]}.wav")
    page.check("input[name=way][value=recorded]")
    until(page, NO_ANSWER)
    page.check("input[name=way][value=board]")
    page.check("input[name=way][value=recorded]")
    until_holds(page, lambda: f"{names[-1]}.wav" in came, "the recording that was lost")


def test_a_photo_that_was_lost_is_shown_with_the_next_answer(page: Page, tmp_path: Path) -> None:
    Image.new("RGB", (160, 240), (20, 220, 20)).save(tmp_path / "photo.png")
    lost: list[Route] = []

    def lose_once(route: Route) -> None:
        if route.request.method == "GET" and not lost:
            lost.append(route)
            route.abort()
        else:
            route.continue_()

    page.route("**/api/picture", lose_once)
    is_green = """(() => { const canvas = document.querySelector('#picture'), pen = new OffscreenCanvas(canvas.width, canvas.height).getContext('2d');
      pen.drawImage(canvas, 0, 0);
      const [red, green] = pen.getImageData(canvas.width - 9, 9, 1, 1).data;
      return green > 60 && green > 3 * red; })()"""
    page.set_input_files("#photo", tmp_path / "photo.png")
    until(page, f"{STATUS}.includes('The photo is now under the lamps')")
    page.click("button[value=play]")
    turn(page, RATE, "6")
    until(page, is_green)


def arrange(page: Page) -> Callable[[int], None]:
    """Lamps of the vents can be moved; the move of one by a key."""
    placing(page, "vents")

    def move(number: int) -> None:
        page.locator(f"#handles [data-at='{number - 1}']").focus()
        page.keyboard.press("ArrowDown")

    return move


def vents(sequence: Path) -> list[list[float]]:
    return tomllib.loads(sequence.read_text(encoding="utf-8"))["groups"]["vents"]["places_mm"]


def test_a_lamp_on_its_way_is_in_what_is_saved(page: Page, sequence: Path) -> None:
    move = arrange(page)
    turn(page, RATE, "6")
    until(page, "!document.querySelector('#save').disabled")
    order: list[str] = []
    page.on(
        "request",
        lambda request: (
            order.append(request.url.rsplit("/", 1)[1]) if request.method == "POST" else None
        ),
    )
    answer = Held(page, "**/api/lamps")
    move(1)
    answer.wait()
    page.click("#save")
    page.wait_for_timeout(100)
    assert order == ["lamps"]
    answer.let_go()
    until(page, f"{STATUS} === 'Saved.'")
    assert vents(sequence)[0] == [55, 66.5]


def test_a_lamp_that_has_left_its_group_holds_up_no_later_move(page: Page, sequence: Path) -> None:
    move = arrange(page)
    answer = Held(page, "**/api/lamps")
    move(6)
    answer.wait()
    move(6)
    told_elsewhere(
        page,
        "/api/lamps",
        {"group": "vents", "lamps": [6], "into": "oil_gauge", "gesture": "elsewhere"},
    )
    until(page, "document.querySelectorAll('#handles [data-at]').length === 5")
    answer.let_go()
    move(1)
    until(page, "!document.querySelector('#save').disabled")
    save(page)
    assert vents(sequence)[0] == [55, 66.5] and len(vents(sequence)) == 5


def test_a_second_click_does_not_number_lamps_again(page: Page, sequence: Path) -> None:
    move = arrange(page)
    orders: list[str] = []
    page.on(
        "request",
        lambda request: orders.append(request.url) if request.url.endswith("/api/lamps") else None,
    )
    for number in (3, 1, 2):
        page.locator(f"#handles [data-at='{number - 1}']").focus()
        page.keyboard.press("Enter")
    answer = Held(page, "**/api/lamps")
    page.dblclick("text=Number them in this order")
    answer.let_go()
    until(page, f"{STATUS}.startsWith('3 lamps have new numbers.')")
    assert len(orders) == 1
    move(1)
    until(page, "!document.querySelector('#save').disabled")
    save(page)
    assert vents(sequence)[:3] == [[75, 66.5], [55, 66], [65, 66]]
