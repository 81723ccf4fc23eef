"""The built-in layouts, byte by byte, and detection."""

from __future__ import annotations

import pickle

import pytest
from known import (
    HEALTHY44,
    HEALTHY44_BE,
    HEALTHY48,
    HEALTHY48_BE,
    NOW,
    REGISTERS5,
    REGISTERS10,
    STAMP,
    memory,
    patched,
)

from rtcsave import (
    AmbiguousLayout,
    BadArgument,
    BadDescription,
    ClockBlock,
    CounterClock,
    DoesNotFit,
    Field,
    Layout,
    NotAClockBlock,
    examine,
    loads,
)
from rtcsave.layouts import BUILT_IN, layout_named

RUNNING = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)
LATCHED = CounterClock(seconds=58, minutes=39, hours=13, day_counter=300)
BLOCKS = {
    "block48": HEALTHY48,
    "block44": HEALTHY44,
    "block48-be": HEALTHY48_BE,
    "block44-be": HEALTHY44_BE,
    "registers5": REGISTERS5,
    "registers10": REGISTERS10,
}


@pytest.mark.parametrize(("name", "latched"), [("registers5", None), ("registers10", LATCHED)])
def test_standalone_registers_are_found_and_read(name: str, latched: CounterClock | None) -> None:
    block = loads(BLOCKS[name], now=NOW).clock_block
    assert block.layout.name == name
    assert block.running == RUNNING
    assert block.latched == latched
    assert (block.stamp, block.saved_unix_s, block.saved_at) == (None, None, None)


@pytest.mark.parametrize("name", ["block48", "block44", "block48-be", "block44-be"])
def test_flags_and_the_ninth_day_bit(name: str) -> None:
    order = "big" if name.endswith("be") else "little"
    word = (0xC1).to_bytes(4, order).hex()  # type: ignore[arg-type]
    block = loads(patched(BLOCKS[name], 16, word), layout=name).block
    assert block is not None
    assert block.running == CounterClock(
        seconds=7, minutes=40, hours=13, day_counter=300, halt=True, carry=True
    )


def test_putting_a_clock_keeps_every_other_bit() -> None:
    stray = patched(HEALTHY48, 0, "8700ff12")  # seconds with bit 7 and two upper bytes
    block = loads(stray, layout="block48").block
    assert block is not None
    after = block.with_clock(RUNNING.advance(60))
    assert after.raw == patched(patched(stray, 0, "8700ff12"), 4, "29")
    assert block.without_stray().raw == HEALTHY48


def test_stray_bits_are_named_with_their_word() -> None:
    block = loads(patched(HEALTHY48, 36, "21ff0000"), layout="block48").block
    assert block is not None
    ((field, extra),) = block.stray()
    assert (field.name, extra) == ("latched_day_high", 0xFF20)


@pytest.mark.parametrize(
    ("stamp", "saved_at"),
    [
        ("ffffffff00000000", "2106-02-07T06:28:15+00:00"),  # the last unsigned 32-bit second
        ("0000008000000000", "2038-01-19T03:14:08+00:00"),  # one past the last signed one
        ("feffffffffffffff", "1969-12-31T23:59:58+00:00"),  # signed
        ("0000000000000000", None),
        ("ffffffffffffffff", None),
        ("ffffffffffffff7f", None),  # past year 9999: no date, and no exception
    ],
)
def test_64_bit_stamps(stamp: str, saved_at: str | None) -> None:
    block = loads(patched(HEALTHY48, 40, stamp), layout="block48").block
    assert block is not None
    assert block.stamp == int.from_bytes(bytes.fromhex(stamp), "little", signed=True)
    assert (block.saved_at.isoformat() if block.saved_at else None) == saved_at


def test_32_bit_stamps_are_unsigned() -> None:
    block = loads(patched(HEALTHY44, 40, "feffffff"), layout="block44").block
    assert block is not None
    assert block.stamp == 4_294_967_294
    assert block.saved_at is not None
    assert block.saved_at.isoformat() == "2106-02-07T06:28:14+00:00"


class TestDetection:
    def test_in_both_orders_the_plausible_stamp_decides(self) -> None:
        zeros = bytes(40)
        le = loads(zeros + HEALTHY48[40:], now=NOW).block
        be = loads(zeros + HEALTHY48_BE[40:], now=NOW).block
        assert le is not None
        assert be is not None
        assert (le.layout.name, be.layout.name) == ("block48", "block48-be")

    @pytest.mark.parametrize("size", [44, 48])
    def test_all_zero_reads_alike_and_is_little_endian(self, size: int) -> None:
        block = loads(bytes(size), now=NOW).block
        assert block is not None
        assert block.layout.name == f"block{size}"

    def test_minus_one_reads_alike_too(self) -> None:
        block = loads(bytes(40) + b"\xff" * 8, now=NOW).block
        assert block is not None
        assert block.layout.name == "block48"

    def test_zeros_with_a_stamp_that_is_plausible_in_neither_order_are_ambiguous(self) -> None:
        with pytest.raises(AmbiguousLayout, match="nothing in it decides") as caught:
            loads(bytes(40) + bytes.fromhex("0100000000000000"), now=NOW)
        assert caught.value.candidates == ("block48", "block48-be")
        assert "(`layout`), for example block48" in str(caught.value)

    def test_zeros_with_a_stamp_that_is_plausible_in_both_orders_are_ambiguous(self) -> None:
        # 40004040h and 40400040h are both dates in 2004: 1073758272 and 1077936192
        data = bytes(40) + bytes.fromhex("40400040")
        with pytest.raises(AmbiguousLayout):
            loads(data, now=NOW)
        assert loads(data, layout="block44-be").block is not None

    def test_the_words_order_wins_over_the_stamps(self) -> None:
        block = loads(HEALTHY48[:40] + HEALTHY48_BE[40:], now=NOW).block
        assert block is not None
        assert block.layout.name == "block48"

    @pytest.mark.parametrize("words", [1, 2, 3])
    def test_up_to_three_words_may_be_odd(self, words: int) -> None:
        data = HEALTHY48
        for at in range(words):
            data = patched(data, 4 * at, "ffffffff")
        block = loads(memory() + data, now=NOW).block
        assert block is not None
        assert block.layout.name == "block48"
        assert len(block.stray()) == words

    def test_four_odd_words_are_noise(self) -> None:
        data = HEALTHY48
        for at in range(4):
            data = patched(data, 4 * at, "ffffffff")
        with pytest.raises(NotAClockBlock, match="are no clock block") as caught:
            loads(memory() + data, now=NOW)
        assert "6 of 10 words" in str(caught.value)
        assert loads(memory() + data, layout="block48").block is not None

    def test_bare_registers_take_no_stray_bit(self) -> None:
        with pytest.raises(NotAClockBlock):
            loads(patched(REGISTERS5, 0, "47"))
        assert loads(patched(REGISTERS5, 0, "47"), layout="registers5").block is not None
        with pytest.raises(NotAClockBlock):
            loads(patched(REGISTERS10, 9, "03"))

    def test_bare_registers_are_only_files_of_their_own(self) -> None:
        with pytest.raises(Exception, match="does not fit layout registers5"):
            loads(memory() + REGISTERS5, layout="registers5")

    def test_the_evidence_is_given(self) -> None:
        first, second = examine(memory() + HEALTHY48, now=NOW).candidates
        assert (first.layout.name, first.fitting, first.words) == ("block48", 10, 10)
        assert "the stamp reads 2026-03-10 14:15:00 UTC" in first.evidence_for
        assert first.evidence_against == ()
        assert second.layout.name == "block48-be"
        assert "0 of 10 words fit their registers" in second.evidence_against
        assert second.evidence_for == ()  # its length fits, and that speaks for nothing

    def test_seven_words_that_fit_speak_for_a_layout_and_six_do_not(self) -> None:
        odd = HEALTHY48
        for at in range(3):
            odd = patched(odd, 4 * at, "ffffffff")
        (first, _) = examine(odd, now=NOW).candidates
        assert (first.fitting, first.evidence_for[0]) == (7, "the length is a block of 48 bytes")
        (first, _) = examine(patched(odd, 12, "ffffffff"), now=NOW).candidates
        assert (first.fitting, first.evidence_for) == (6, ())


def test_an_unknown_layout_names_the_nearest() -> None:
    with pytest.raises(BadArgument, match="did you mean block48"):
        loads(HEALTHY48, layout="blok48")
    with pytest.raises(BadArgument, match="this is not a layout"):
        loads(HEALTHY48, layout=48)  # type: ignore[arg-type]
    assert layout_named(BUILT_IN[0]) is BUILT_IN[0]


def test_a_table_that_does_not_hold_together_is_refused() -> None:
    field = Field(name="a", offset=0, size=4, part="running")
    with pytest.raises(BadDescription, match="lies outside the block"):
        Layout(name="x", size=3, clock="counter", fields=(field,))
    with pytest.raises(BadDescription, match="overlap"):
        Layout(
            name="x",
            size=8,
            clock="counter",
            fields=(field, Field(name="b", offset=3, size=4, part="running")),
        )
    with pytest.raises(BadDescription, match="unknown kind of clock"):
        Layout(name="x", size=4, clock="sundial", fields=(field,))


def test_a_block_has_its_layouts_size_and_kind() -> None:
    with pytest.raises(BadArgument, match="has 48 bytes"):
        ClockBlock(layout=layout_named("block48"), raw=bytes(47))
    block = ClockBlock(layout=layout_named("block48"), raw=HEALTHY48)
    with pytest.raises(BadArgument, match="not a clock"):
        block.with_clock("12:00")  # type: ignore[arg-type]
    bare = ClockBlock(layout=layout_named("registers5"), raw=REGISTERS5)
    assert bare.with_stamp(None) == bare
    with pytest.raises(DoesNotFit, match="has no stamp"):
        bare.with_stamp(STAMP)


def test_layouts_are_values() -> None:
    layout = layout_named("block48")
    assert pickle.loads(pickle.dumps(layout)) == layout
    assert repr(layout) == "<Layout block48: 48 bytes, counter clock>"
