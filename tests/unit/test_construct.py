"""A layout as one more field of somebody's own declaration in construct."""

from __future__ import annotations

import pickle
from typing import Any

import construct
import pytest
from known import HEALTHY48, REGISTERS5, patched

from rtcsave import LAYOUTS, ClockBlock, CounterClock, describe

BLOCK48: Any = LAYOUTS["block48"].construct()
ODD = describe(
    {
        "name": "odd",
        "size": 9,
        "field": [
            {"offset": 0, "bytes": 3, "holds": "seconds", "order": "big"},
            {"offset": 3, "bytes": 5, "holds": "day_counter"},
        ],
    }
)


def test_it_parses_to_a_block_and_builds_every_bit_back() -> None:
    raw = patched(HEALTHY48, 1, "ff")  # stray bits too
    block = BLOCK48.parse(raw)
    assert block == ClockBlock(layout=LAYOUTS["block48"], raw=raw)
    assert BLOCK48.build(block) == raw
    assert BLOCK48.sizeof() == 48


def test_inside_struct_array_and_greedy_range() -> None:
    mine = construct.Struct(
        "mark" / construct.Const(b"QUAY"), "clock" / BLOCK48, "more" / construct.Byte
    )
    parsed = mine.parse(b"QUAY" + HEALTHY48 + b"\x07")
    assert parsed.clock.running == CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    assert (parsed.more, mine.build(parsed)) == (7, b"QUAY" + HEALTHY48 + b"\x07")
    assert construct.Array(2, BLOCK48).sizeof() == 96
    for several in (construct.Array(2, BLOCK48), construct.GreedyRange(BLOCK48)):
        assert [block.raw for block in several.parse(HEALTHY48 * 2)] == [HEALTHY48] * 2
        assert several.build(several.parse(HEALTHY48 * 2)) == HEALTHY48 * 2


def test_it_raises_constructs_own_errors() -> None:
    with pytest.raises(construct.StreamError):
        BLOCK48.parse(HEALTHY48[:47])
    other = ClockBlock(layout=LAYOUTS["registers5"], raw=REGISTERS5)
    for wrong in (None, HEALTHY48, other):
        with pytest.raises(construct.ValidationError, match="no block of layout block48"):
            BLOCK48.build(wrong)


def test_it_is_picklable_and_so_is_every_layout() -> None:
    assert pickle.loads(pickle.dumps(BLOCK48)).parse(HEALTHY48) == BLOCK48.parse(HEALTHY48)
    for layout in (*LAYOUTS.values(), ODD):
        again = pickle.loads(pickle.dumps(layout))
        assert (again, hash(again), repr(again)) == (layout, hash(layout), repr(layout))
        assert again.construct().sizeof() == layout.size


def test_words_that_struct_cannot_express_go_both_ways() -> None:
    raw = bytes.fromhex("00003b 2c01000000 77")
    block = ClockBlock(layout=ODD, raw=raw)
    assert block.running == CounterClock(seconds=59, minutes=0, hours=0, day_counter=300)
    moved = block.with_clock(CounterClock(seconds=1, minutes=0, hours=0, day_counter=511))
    assert moved.raw == bytes.fromhex("000001 ff01000000 77")


def test_a_block_made_new_has_the_layouts_constants() -> None:
    clock = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
    latched = CounterClock(seconds=58, minutes=39, hours=13, day_counter=300)
    block = ClockBlock.new(clock, saved_at=1_773_152_100, latched=latched)
    assert block.raw == HEALTHY48
    assert ClockBlock.new(clock, layout="registers5").raw == REGISTERS5
    assert ClockBlock.new(clock).raw == HEALTHY48[:20] * 2 + bytes(8)
