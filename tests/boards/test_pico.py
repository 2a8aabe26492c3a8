"""The image for the RP2040 as the package has it, on an emulated board: how it starts, what the
link does with it, and its power cut in commands of its flash chip.

The board ends with a status of its own where the firmware breaks a rule of the chip: a read of flash
memory while that is busy or taken for commands, a write without an erasure, a byte of the line that
is lost.
"""

import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from nano_board import push_unseen
from pico_board import (
    BROKEN,
    FIRMWARE_BYTES,
    FLASH_BYTES,
    IMAGE,
    PORT,
    QUICK,
    ROM,
    SECTOR_BYTES,
    SERIAL_NUMBER,
    SLOT_BYTES,
    SLOTS,
    TABLE_ROOM,
    TEARS,
    EmulatedBoard,
    active_table,
    build,
    clock,
    cut_in_a_push,
    functions,
    unpacked,
    with_table,
)
from rp2040py.execute_batch import execute_batch
from rp2040py.simulator import Simulator
from rp2040py.utils.logging import ConsoleLogger, LogLevel
from small_tables import demo_table
from uf2utils import Family, UF2File

from fxseq.link import encode_frame, enter_boot_loader, hello, open_port, prove, push
from fxseq.link import messages as m
from fxseq.link.driver import converse
from fxseq.link.frames import FrameDecoder
from fxseq.link.host_session import HostSession, Steps, Talk, ask
from fxseq.link.messages import table_crc
from fxseq.player import Player, Press, PressKind
from fxseq.runs import load_prop
from fxseq.sequence import LinkError
from fxseq.table import decode

FXSEQ = Path(sys.executable).with_name("fxseq")
DEMOS = Path(__file__).parents[2] / "demo_assets"
FIRST_LIGHT = DEMOS / "first_light.toml"
LANTERN = DEMOS / "squall_lantern.toml"


@pytest.fixture
def flash(tmp_path: Path) -> Path:
    """Flash memory of a new board with the image on it."""
    file = tmp_path / "flash"
    file.write_bytes(unpacked(IMAGE.read_bytes()))
    return file


def checksum(table: bytes) -> tuple[int, int]:
    return len(table), table_crc(table)


def wait_for(condition: Callable[[], bool]) -> None:
    """Raises AssertionError after 20 s."""
    end = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.02)


# The image


def test_image_is_what_its_sources_give_in_any_folder(tmp_path: Path) -> None:
    copy = tmp_path / "elsewhere" / "ports" / "pico"
    shutil.copytree(PORT, copy)
    shutil.copytree(PORT.parents[1] / "player", copy.parents[1] / "player")
    assert build(tmp_path / "built", copy).read_bytes() == IMAGE.read_bytes()


def test_image_is_read_by_others_as_it_was_meant() -> None:
    file = UF2File(str(IMAGE))
    memory = unpacked(IMAGE.read_bytes())
    for block in file:
        assert block.header.family.id == Family.byName("RP2040").id
        at = block.header.address - 0x10000000
        assert bytes(block.payload[:256]) == memory[at : at + 256]
    assert len(file) * 256 < FIRMWARE_BYTES
    assert set(memory[len(file) * 256 :]) == {0xFF}


def test_nothing_but_the_second_stage_is_linked_to_run_outside_the_image_of_ram(
    pico_program: Path,
) -> None:
    code = functions(pico_program)
    assert code.pop("boot2") == 0x20041F00
    assert len(code) > 50
    assert all(0x20000000 <= at < 0x20010000 for at in code.values())


# The start


def test_it_starts_from_the_boot_rom_of_another_emulator() -> None:
    """Of rp2040py, which has its own model of the flash chip."""
    chip = Simulator()
    chip.rp2040.load_bootrom(list(memoryview(ROM).cast("I")))
    chip.rp2040.logger = ConsoleLogger(LogLevel.ERROR)
    chip.rp2040.flash[:FIRMWARE_BYTES] = unpacked(IMAGE.read_bytes())[:FIRMWARE_BYTES]
    out = bytearray()
    chip.rp2040.uart[0].on_byte = out.append
    chip.stopped = False
    while chip.rp2040.core.cycles < 1_500_000:
        execute_batch(chip, 16)
    for byte in encode_frame(m.Hello().encode(3)):
        chip.rp2040.uart[0].feed_byte(byte)
    while 0 not in out and chip.rp2040.core.cycles < 6_000_000:
        execute_batch(chip, 16)
    tag, board = m.decode_message(*FrameDecoder().feed(bytes(out)))
    assert (tag, board.name, board.active) == (3, "fxseq pico", m.NO_SLOT)


def test_it_starts_from_the_boot_rom_and_says_what_it_is(flash: Path) -> None:
    with EmulatedBoard(flash) as board, open_port(board.where) as port:
        found = hello(port)
        figures = board.figures()
    assert (found.name, found.slot_bytes, found.active) == ("fxseq pico", SLOT_BYTES, m.NO_SLOT)
    assert f"{found.board_id:08X}" == SERIAL_NUMBER[-8:]
    has = m.Feature
    assert found.features == (
        has.RUNS
        | has.SOUND
        | has.LIGHT
        | has.READING
        | has.COPYING
        | has.SPEED
        | has.COUNTING
        | has.HALVING
    )
    assert (figures["clkSys"], figures["clkPeri"], figures["resets"]) == (125e6, 125e6, 0)
    assert figures["baud"] == pytest.approx(115_200, rel=1e-3)
    assert figures["fetchedInPlace"] == 0
    assert figures["brownOut"] == 0xB1, "on, at 0.946 V; the emulator knows no voltage"


def test_its_serial_line_goes_on_at_another_speed_and_comes_back(flash: Path) -> None:
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        assert hello(port).takes_speed
        agreed = converse(port, HostSession(_quicker, board.where))
        at_once = board.figures()["baud"]
        found = hello(port)
        board.wait(1.1)
        later = board.figures()["baud"]
        assert hello(port) == found
    assert (agreed.baud, at_once) == (1_000_000, pytest.approx(1e6, rel=1e-3))
    assert later == pytest.approx(115_200, rel=1e-3)


def _quicker(talk: Talk) -> Steps[m.Agreed]:
    _, agreed = yield from ask(talk, m.Speed(1_000_000), m.Agreed)
    yield from ask(talk, m.Hello(), m.Board)
    return agreed


def test_push_at_the_highest_speed_loses_nothing(flash: Path) -> None:
    """The emulated line runs at the speed of the chip, whatever the computer's."""
    data = demo_table(clip_samples=60_000)
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        port.baud = m.BASE_BAUD
        port.run_at = lambda baud: None
        pushed = push(port, data)
        assert (pushed.baud, pushed.repeated_blocks) == (m.MOST_BAUD, 0)
        assert active_table(port) == checksum(data)


def test_it_sleeps_while_nothing_is_to_be_done(flash: Path) -> None:
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        hello(port)
        before = board.figures()
        board.wait(1)
        after = board.figures()
    cycles = after["cycles"] - before["cycles"]
    assert (after["slept"] - before["slept"]) / cycles > 0.99


def test_read_of_flash_memory_that_does_not_answer_is_noticed(flash: Path) -> None:
    """The same second stage, but it asks for another command: the copy into RAM is what breaks."""
    sys.path.insert(0, str(PORT))
    from image import crc_32

    memory = bytearray(flash.read_bytes())
    command = memory.index((0x03000218).to_bytes(4, "little"), 0, 252)
    memory[command + 3] = 0x0B
    memory[252:256] = crc_32(bytes(memory[:252])).to_bytes(4, "little")
    flash.write_bytes(memory)
    board = EmulatedBoard(flash)
    messages, status = board.end()
    assert status == BROKEN
    assert "while the flash chip cannot be read in place" in messages


def test_watchdog_resets_a_processor_that_hangs(flash: Path) -> None:
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        push(port, demo_table(200))
        board.say("hang")
        wait_for(lambda: board.figures()["resets"] == 1)
        assert active_table(port) == checksum(demo_table(200))


def test_boot_loader_of_the_chip_comes_by_a_request(flash: Path) -> None:
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        push(port, demo_table(200))
        enter_boot_loader(port)
        wait_for(lambda: board.figures()["resets"] == 1 and board.figures()["usbOn"])
        assert board.figures()["inBootRom"]
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        assert active_table(port) == checksum(demo_table(200))


# The link


def test_command_pushes_into_the_slots_in_turn_and_a_power_up_finds_it(
    flash: Path, tmp_path: Path
) -> None:
    longer = tmp_path / "longer.toml"
    text = FIRST_LIGHT.read_text("utf-8").replace("length_ms = 400", "length_ms = 500")
    longer.write_text(text.replace("clips/", f"{DEMOS / 'clips'}/"), "utf-8")
    props = FIRST_LIGHT, longer
    first, second = (load_prop(prop).compiled.data for prop in props)
    before = flash.read_bytes()
    with EmulatedBoard(flash, *QUICK) as board:
        for prop in props:
            done = subprocess.run(
                [FXSEQ, "push", prop, "--port", board.where], capture_output=True, text=True
            )
            assert done.returncode == 0, done.stderr
        proved = subprocess.run(
            [FXSEQ, "prove", longer, "--port", board.where], capture_output=True, text=True
        )
        assert proved.returncode == 0, proved.stderr
        assert board.figures()["fetchedInPlace"] == 0
    memory = flash.read_bytes()
    assert memory[:FIRMWARE_BYTES] == before[:FIRMWARE_BYTES]
    assert memory[SLOTS:].startswith(first)
    assert memory[SLOTS + SLOT_BYTES :].startswith(second)
    assert len(memory) == FLASH_BYTES
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        assert active_table(port) == checksum(second)
        assert hello(port).active == 1


def test_command_proves_the_demo_with_its_own_presses(flash: Path) -> None:
    """Eleven seconds; its cells have 6 V, behind a divider by three."""
    table = load_prop(LANTERN).compiled.data
    flash.write_bytes(with_table(flash.read_bytes(), table))
    with EmulatedBoard(flash, "--speed", "20", "--volts", "26:2") as board:
        proved = subprocess.run(
            [FXSEQ, "prove", LANTERN, "--port", board.where], capture_output=True, text=True
        )
        assert proved.returncode == 0, proved.stdout + proved.stderr
    assert f" plays {LANTERN} as the reference does: " in proved.stdout


def test_run_equals_the_reference(flash: Path) -> None:
    data = demo_table()
    presses = [
        Press(100, PressKind.PRESS, 0, 0),
        Press(300, PressKind.SELECT, 0, 1),
        Press(700, PressKind.RELEASE, 0, 0),
        Press(800, PressKind.VOLUME, 0, 100),
    ]
    with EmulatedBoard(flash) as board, open_port(board.where) as port:
        push(port, data)
        found = prove(port, presses, 1050)
    assert found == Player(decode(data)).play(presses, 1050).trace
    assert len(found) > 100


def test_table_in_ram_plays_on_without_losing_a_frame_while_flash_memory_is_changed(
    flash: Path,
) -> None:
    """Through erasures of 45 ms and all the rest of a push, which ends in a refusal: the clock of the
    old table stands where the emulated time says.
    """
    flash.write_bytes(with_table(flash.read_bytes(), demo_table(200)))
    bad = bytearray(demo_table(9000, 2))
    bad[-1] ^= 1
    with EmulatedBoard(flash) as board, open_port(board.where) as port:
        before = clock(port), board.figures()
        with pytest.raises(LinkError, match="refuses"):
            push_unseen(port, bytes(bad))
        after = clock(port), board.figures()
    assert (
        after[1]["commands"] - before[1]["commands"] > 3 + 36
    )  # 3 erasures, a page each 256 bytes
    seconds = (after[1]["cycles"] - before[1]["cycles"]) / 125e6
    asked_s = 0.03  # from a clock to the figures behind it; an erasure takes longer
    assert after[0] - before[0] == pytest.approx(seconds * 22_050 / 21, abs=asked_s * 1050)


def test_table_too_large_for_ram_plays_from_flash_memory_and_gives_way(flash: Path) -> None:
    large = demo_table(TABLE_ROOM + 10_000)
    flash.write_bytes(with_table(flash.read_bytes(), large))
    presses = [Press(5, PressKind.PRESS, 0, 0)]
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        assert active_table(port) == checksum(large)
        assert prove(port, presses, 100) == Player(decode(large)).play(presses, 100).trace
        push(port, demo_table(200))
        assert active_table(port) == checksum(demo_table(200))


def test_table_too_large_for_ram_stands_in_a_push_and_goes_on_a_second_after_its_end(
    flash: Path,
) -> None:
    flash.write_bytes(with_table(flash.read_bytes(), demo_table(TABLE_ROOM + 10_000)))
    bad = bytearray(demo_table(9000, 2))
    bad[-1] ^= 1
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        before = clock(port), board.figures()
        with pytest.raises(LinkError, match="refuses"):
            push_unseen(port, bytes(bad))
        after = clock(port), board.figures()
        seconds = (after[1]["cycles"] - before[1]["cycles"]) / 125e6
        assert after[0] - before[0] < 0.3 * seconds * 1050
        wait_for(lambda: clock(port) > after[0] + 100)


# Power


def test_power_cut_in_any_command_leaves_the_old_table_or_the_new_one(flash: Path) -> None:
    """A push of one sector: what plays is marked again, the sector is erased, pages are written, the
    mark is written; each of them torn in another way.
    """
    old, new = demo_table(200, 1), demo_table(200, 2)
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        push(port, old)
    memory = flash.read_bytes()
    with EmulatedBoard(flash, *QUICK) as board, open_port(board.where) as port:
        push(port, new)
        commands = board.figures()["commands"]
    assert commands >= 5
    places = [(at, TEARS[at % len(TEARS)]) for at in range(1, commands)]
    for at, tear in [*places, (commands, "anything"), (commands, "done")]:
        expected = checksum(new if (at, tear) == (commands, "done") else old)
        assert set(cut_in_a_push(flash, memory, new, at, tear)) == {expected}, (at, tear)
