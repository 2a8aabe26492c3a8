"""Slots and marks: whatever happens, a whole table plays."""

import random

import pytest
from simulated import MemoryFlash, PowerCut, check, make_table

from fxseq.link.messages import table_crc
from fxseq.link.slots import MARK_BYTES, FlashError, Mark, Slots, decode_mark


def write(slots: Slots, table: bytes) -> None:
    """Put a table into the idle slot and mark it."""
    for _ in slots.erase_idle(len(table)):
        pass
    slots.write_idle(0, table)
    slots.commit(len(table), table_crc(table))


def playing(flash: MemoryFlash) -> bytes | None:
    """Table that plays after power-up."""
    slots = Slots(flash, check)
    return (
        b"".join(slots.read(slots.active.slot, slots.active.length))
        if slots.active is not None
        else None
    )


def test_new_flash_has_no_table() -> None:
    assert playing(MemoryFlash()) is None


def test_tables_take_turns_in_the_slots_over_many_pushes() -> None:
    flash = MemoryFlash()
    used = []
    for turn in range(40):
        slots = Slots(flash, check)
        write(slots, make_table(100 + turn, turn))
        used.append(slots.active.slot)
        assert playing(flash) == make_table(100 + turn, turn)
    assert used == [1, 0] * 20 or used == [0, 1] * 20


def test_a_cut_at_any_byte_of_any_of_many_pushes_leaves_the_old_table_or_the_new_one() -> None:
    """Ten pushes in a row, so that marks fill a page (4 marks of 16 bytes) and the other page is
    erased, more than once.
    """
    flash = MemoryFlash()
    write(Slots(flash, check), make_table(90, 0))
    for turn in range(1, 11):
        old = make_table(89 + turn, turn - 1)
        new = make_table(90 + turn, turn)
        before = flash.spent
        before_data = bytes(flash.data)
        write(Slots(flash, check), new)
        after = bytes(flash.data)
        total = flash.spent - before
        outcomes = set()
        for budget in range(total):
            flash.data = bytearray(before_data)
            flash.budget = budget
            with pytest.raises(PowerCut):
                write(Slots(flash, check), new)
            flash.budget = float("inf")
            outcomes.add(playing(flash))
            write(Slots(flash, check), new)
            assert playing(flash) == new
        assert {old} <= outcomes <= {old, new}
        flash.data = bytearray(after)


def test_a_mark_that_was_cut_short_is_passed_over_and_the_next_one_goes_behind_it() -> None:
    flash = MemoryFlash()
    write(Slots(flash, check), make_table(50, 1))
    flash.data[MARK_BYTES : MARK_BYTES + 5] = b"\x02\0\0\0\x32"
    slots = Slots(flash, check)
    write(slots, make_table(60, 2))
    again, new = (
        decode_mark(bytes(flash.data[at : at + MARK_BYTES]))
        for at in (2 * MARK_BYTES, 3 * MARK_BYTES)
    )
    # The first mark had turn 2. One that is cut may have 3 or 4, so what plays is marked again
    # beyond these.
    assert (again, new) == (Mark(6, 50, table_crc(make_table(50, 1))), slots.active)
    assert playing(flash) == make_table(60, 2)


def test_of_marks_with_one_turn_the_one_that_stands_last_counts() -> None:
    flash = MemoryFlash()
    write(Slots(flash, check), make_table(50, 1))
    flash.data[MARK_BYTES : 2 * MARK_BYTES] = Mark(2, 60, 9).encode()
    assert playing(flash) is None
    flash.data[64 : 64 + MARK_BYTES] = flash.data[:MARK_BYTES]
    assert playing(flash) == make_table(50, 1)


def test_what_plays_is_marked_again_once_after_power_up_before_the_first_erasure() -> None:
    flash = MemoryFlash()
    write(Slots(flash, check), make_table(50, 1))
    slots = Slots(flash, check)
    next(slots.erase_idle(10))
    assert (
        decode_mark(bytes(flash.data[MARK_BYTES : 2 * MARK_BYTES]))
        == Mark(4, 50, table_crc(make_table(50, 1)))
        == slots.active
    )
    assert flash.spent == 256 // 4 + 50 + 2 * MARK_BYTES
    write(slots, make_table(60, 2))
    write(slots, make_table(60, 3))
    assert bytes(flash.data[:64]).count(b"\xff" * MARK_BYTES) == 0


def test_older_table_plays_when_the_newest_is_damaged_and_survives_the_next_push_being_cut() -> (
    None
):
    flash = MemoryFlash()
    for turn in range(5):
        write(Slots(flash, check), make_table(70, turn))
    newest = Slots(flash, check).active
    flash.data[2 * 64 + newest.slot * 256] ^= 1
    assert playing(flash) == make_table(70, 3)
    kept = bytes(flash.data)
    # The mark of this table does not end in FF, which would make it whole one byte early.
    for budget in range(400):
        flash.data = bytearray(kept)
        flash.budget = budget
        try:
            write(Slots(flash, check), make_table(80, 8))
        except PowerCut:
            flash.budget = float("inf")
            assert playing(flash) == make_table(70, 3)
        else:
            assert playing(flash) == make_table(80, 8)


def test_table_that_fails_the_check_does_not_play() -> None:
    flash = MemoryFlash()
    write(Slots(flash, check), make_table(50, 1))
    write(Slots(flash, check), make_table(60, 2, b"bad"))
    assert playing(flash) == make_table(50, 1)


def test_other_table_of_the_same_length_in_the_slot_of_an_old_mark_is_not_taken_for_it() -> None:
    """Every table ends in its own CRC-32, so a CRC-32 over the whole of it would be the same for
    all of them.
    """
    flash = MemoryFlash()
    for turn in range(3):
        write(Slots(flash, check), make_table(50, turn))
    slots = Slots(flash, check)
    for _ in slots.erase_idle(50):
        pass
    slots.write_idle(0, make_table(50, 9))
    assert Slots(flash, check).tables == [None, slots.active] or Slots(flash, check).tables == [
        slots.active,
        None,
    ]


def test_mark_with_an_impossible_length_is_passed_over() -> None:
    flash = MemoryFlash()
    flash.data[:MARK_BYTES] = Mark(1, 100_000, 5).encode()
    assert playing(flash) is None


def test_random_flash_content_never_raises() -> None:
    for seed in range(50):
        flash = MemoryFlash()
        flash.data = bytearray(random.Random(seed).randbytes(640))
        assert playing(flash) is None
        write(Slots(flash, check), make_table(100, seed))
        assert playing(flash) == make_table(100, seed)


def test_mark_that_reads_back_wrong_is_reported() -> None:
    class Worn(MemoryFlash):
        def write(self, offset: int, data: bytes) -> None:
            super().write(offset, bytes([data[0] ^ 1]) + data[1:])

    with pytest.raises(FlashError, match="the mark reads back wrong"):
        Slots(Worn(), check).commit(5, 5)


def test_erased_bytes_are_no_mark() -> None:
    assert decode_mark(b"\xff" * MARK_BYTES) is None
    assert decode_mark(bytes(MARK_BYTES)) is None
