"""Records to bytes and back (SPEC 3)."""

from dataclasses import replace

from hypothesis import given
from raw_table import assemble, verdict
from strategies import often, tables, wide_tables

from fxseq.table import ClipRecord, Coding, Table, decode, encode


@often(25)
@given(tables())
def test_table_to_be_played_comes_back(table: Table) -> None:
    data = encode(table)
    assert decode(data) == table
    assert verdict(data) is None


@often(25)
@given(wide_tables())
def test_table_of_extreme_values_comes_back(table: Table) -> None:
    data = encode(table)
    assert decode(data) == table
    assert verdict(data) is None


@often(25)
@given(tables())
def test_bytes_depend_on_the_table_alone(table: Table) -> None:
    assert encode(table) == encode(replace(table)) == encode(decode(encode(table)))


def test_empty_table_is_a_header_and_a_crc() -> None:
    raw = assemble()
    assert encode(decode(raw.data)) == raw.data
    assert len(raw.data) == 54 and raw.data[22:50] == bytes(28)


def test_equal_clip_data_are_stored_once() -> None:
    samples = bytes(range(200))
    one, two = (ClipRecord(Coding.MULAW, step, 200, samples) for step in (65536, 40000))
    table = decode(assemble().data)
    both, first = (encode(replace(table, clips=clips)) for clips in ((one, two), (one,)))
    assert decode(both).clips == (one, two)
    assert len(both) - len(first) < 20
