"""`loads`, `dumps` and what a save can do."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timezone
from typing import Any

import pytest
from known import (
    HEALTHY44,
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
    BadArgument,
    BlockCutShort,
    CounterClock,
    DoesNotFit,
    EmptyFile,
    NoClock,
    SaveFile,
    StampUnusable,
    UnknownLength,
    check,
    dumps,
    loads,
)


@pytest.mark.parametrize("kind", [bytearray, memoryview])
def test_other_kinds_of_bytes(kind: Any) -> None:
    assert dumps(loads(kind(HEALTHY48))) == HEALTHY48


@pytest.mark.parametrize("wrong", ["game.sav", None, 48, [1, 2]])
def test_what_is_not_bytes_is_refused(wrong: Any) -> None:
    with pytest.raises(BadArgument, match="a save is bytes"):
        loads(wrong)


@pytest.mark.parametrize("length", [1, 4, 11, 255, 310, 8_191, 8_193 + 48, 40_000, 262_144])
def test_unknown_lengths_say_what_would_be_known(length: int) -> None:
    with pytest.raises(UnknownLength) as caught:
        loads(memory(length))
    assert f"found {length:,} byte{'s' if length > 1 else ''}," in str(caught.value)
    assert "a memory image (256 to 131,072 bytes)" in str(caught.value)


def test_empty_input() -> None:
    with pytest.raises(EmptyFile, match="the file is empty"):
        loads(b"")
    with pytest.raises(EmptyFile):
        loads(b"", layout="block48")


@pytest.mark.parametrize("length", [4, 5, 20, 40, 43, 45, 47])
def test_a_block_cut_short_after_memory(length: int) -> None:
    with pytest.raises(BlockCutShort) as caught:
        loads(memory() + HEALTHY48[:length])
    assert f"found {length} bytes after 2,048 bytes of memory" in str(caught.value)
    assert "`examine`" in str(caught.value)


def test_a_standalone_block_cut_short_needs_a_whole_clock() -> None:
    with pytest.raises(BlockCutShort):
        loads(HEALTHY48[:40])
    with pytest.raises(UnknownLength):
        loads(HEALTHY48[:19])


@pytest.mark.parametrize("tail", [b"\n", b"\x1a", b"\0", b"\xff\xff\xff", HEALTHY48[:3]])
def test_a_few_bytes_after_memory_prove_no_block(tail: bytes) -> None:
    with pytest.raises(UnknownLength) as caught:
        loads(memory() + tail)
    assert f"{len(tail)} of them after 2,048 bytes of memory" in str(caught.value)
    assert "`layout`" in str(caught.value)


def test_noise_after_memory_is_not_a_block_cut_short() -> None:
    with pytest.raises(UnknownLength):
        loads(memory() + b"\xa5" * 30)


def test_a_named_layout_that_cannot_fit_says_so() -> None:
    with pytest.raises(UnknownLength, match="does not fit layout block48") as caught:
        loads(memory(8_192), layout="block48")
    assert "leave the layout out" in str(caught.value)


class TestAdvancing:
    save = loads(memory() + HEALTHY48, now=NOW)

    def test_running_and_stamp_move_and_nothing_else(self) -> None:
        after = self.save.advance_to(STAMP + 90_061)  # 1 day 1 h 1 min 1 s
        # 13:40:07 + 1:01:01 = 14:41:08 on day 301 (2Dh + 256); stamp 1773242161 = 69B18731h
        expected = patched(patched(HEALTHY48, 0, "08000000 29000000 0e000000 2d"), 40, "3187b169")
        assert dumps(after) == memory() + expected

    def test_a_datetime_of_any_zone_will_do(self) -> None:
        instant = datetime(2026, 3, 10, 14, 15, 9, 999_999, timezone.utc)
        assert self.save.advance_to(instant).block.stamp == STAMP + 9  # type: ignore[union-attr]
        with pytest.raises(BadArgument, match="has no zone"):
            self.save.advance_to(datetime(2026, 3, 10, 14, 15))

    @pytest.mark.parametrize(
        ("stamp", "reason"),
        [
            ("0000000000000000", "the stamp is absent"),
            ("ffffffffffffffff", "the stamp is absent"),
            ("0100000000000000", "says no instant"),
            ("ffffffffffffff7f", "says no instant"),
            ("65a8b16900000000", "later than the instant"),
        ],
    )
    def test_a_stamp_that_is_unusable_is_refused_with_the_ways_out(
        self, stamp: str, reason: str
    ) -> None:
        save = loads(patched(HEALTHY48, 40, stamp))
        with pytest.raises(StampUnusable, match=reason) as caught:
            save.advance_to(NOW)
        assert "`saved_at`" in str(caught.value)
        assert "`advance_by`" in str(caught.value)
        after = save.advance_to(NOW, saved_at=NOW - 60)
        assert after.block is not None
        assert after.block.running == CounterClock(seconds=7, minutes=41, hours=13, day_counter=300)
        assert after.block.stamp == NOW

    def test_saved_at_wins_over_the_stamp(self) -> None:
        after = self.save.advance_to(NOW, saved_at=NOW)
        assert after.block is not None
        assert after.block.running == self.save.block.running  # type: ignore[union-attr]
        assert after.block.stamp == NOW
        with pytest.raises(BadArgument, match="`saved_at` is later"):
            self.save.advance_to(NOW, saved_at=NOW + 1)

    def test_to_the_stamp_itself_nothing_moves(self) -> None:
        assert self.save.advance_to(STAMP) == self.save

    def test_a_halted_clock_stands_and_its_stamp_moves(self) -> None:
        halted = loads(patched(HEALTHY48, 16, "41"))
        assert dumps(halted.advance_to(STAMP + 1)) == patched(
            patched(HEALTHY48, 16, "41"), 40, "6527b069"
        )

    def test_overflowing_sets_carry(self) -> None:
        last = loads(patched(HEALTHY48, 0, "3b0000003b00000017000000ff00000001"))
        assert dumps(last.advance_to(STAMP + 1)) == patched(
            patched(HEALTHY48, 0, "0000000000000000000000000000000080"), 40, "6527b069"
        )

    def test_by_moves_a_usable_stamp_and_no_other(self) -> None:
        assert dumps(self.save.advance_by(60)) == memory() + patched(
            patched(HEALTHY48, 4, "29"), 40, "a0"
        )
        for stamp in ("0000000000000000", "ffffffffffffffff", "0100000000000000"):
            odd = loads(patched(HEALTHY48, 40, stamp))
            assert dumps(odd.advance_by(60)) == patched(patched(HEALTHY48, 4, "29"), 40, stamp)
        for wrong in (-1, 1.5, True):
            with pytest.raises(BadArgument):
                self.save.advance_by(wrong)  # type: ignore[arg-type]

    def test_a_layout_without_a_stamp_needs_saved_at_and_stores_none(self) -> None:
        bare = loads(REGISTERS5)
        with pytest.raises(StampUnusable, match="has no stamp"):
            bare.advance_to(NOW)
        assert dumps(bare.advance_to(NOW, saved_at=NOW - 60)) == bytes.fromhex("07 29 0d 2c 01")
        assert dumps(bare.advance_by(60)) == bytes.fromhex("07 29 0d 2c 01")

    def test_a_stamp_without_room_for_the_instant_is_refused(self) -> None:
        save = loads(HEALTHY44)
        assert save.advance_to(4_294_967_294).block.stamp == 4_294_967_294  # type: ignore[union-attr]
        with pytest.raises(DoesNotFit):
            save.advance_to(4_294_967_295)
        with pytest.raises(DoesNotFit):
            save.advance_to(4_294_967_296)

    def test_an_image_without_a_clock_says_so(self) -> None:
        image = loads(memory())
        for call in (lambda: image.advance_to(NOW), lambda: image.advance_by(1)):
            with pytest.raises(NoClock, match="has no clock block"):
                call()


class TestLayouts:
    def test_the_four_word_layouts_turn_into_each_other(self) -> None:
        save = loads(memory() + HEALTHY48)
        assert dumps(save.with_layout("block44")) == memory() + HEALTHY44
        assert dumps(save.with_layout("block48-be")) == memory() + HEALTHY48_BE
        assert dumps(save.with_layout("block48-be").with_layout("block48")) == memory() + HEALTHY48

    def test_stray_bits_go_along(self) -> None:
        save = loads(patched(HEALTHY48, 0, "870000ab"))
        assert dumps(save.with_layout("block48-be"))[:4] == bytes.fromhex("ab000087")

    def test_a_stamp_past_32_bits_is_refused_unless_dropped(self) -> None:
        save = loads(patched(HEALTHY48, 40, "0000000001000000"))
        with pytest.raises(DoesNotFit, match="`drop_stamp`"):
            save.with_layout("block44")
        assert dumps(save.with_layout("block44", drop_stamp=True)) == HEALTHY44[:40] + bytes(4)

    def test_an_absent_stamp_stays_absent(self) -> None:
        ones = loads(HEALTHY48[:40] + b"\xff" * 8)
        assert dumps(ones.with_layout("block44")) == HEALTHY48[:40] + b"\xff" * 4
        assert (
            dumps(ones.with_layout("block44").with_layout("block48"))
            == HEALTHY48[:40] + b"\xff" * 8
        )

    def test_between_blocks_and_bare_registers(self) -> None:
        standalone = loads(HEALTHY48)
        with pytest.raises(DoesNotFit, match="has no stamp"):
            standalone.with_layout("registers10")
        assert dumps(standalone.with_layout("registers10", drop_stamp=True)) == REGISTERS10
        # without latched registers, latched becomes running; without a stamp, absent
        assert dumps(loads(REGISTERS5).with_layout("block44")) == (
            HEALTHY44[:20] + HEALTHY44[:20] + bytes(4)
        )
        with pytest.raises(DoesNotFit, match="stray bits"):
            loads(patched(HEALTHY48, 0, "8700")).with_layout(
                "registers5", drop_stamp=True, drop_latched=True
            )
        with pytest.raises(DoesNotFit, match="`drop_latched`"):
            standalone.with_layout("registers5", drop_stamp=True)
        assert (
            dumps(standalone.with_layout("registers5", drop_stamp=True, drop_latched=True))
            == REGISTERS5
        )
        with pytest.raises(DoesNotFit, match="standalone file"):
            loads(memory() + HEALTHY48).with_layout("registers5")

    def test_taking_the_block_off(self) -> None:
        assert dumps(loads(memory() + HEALTHY48).without_block()) == memory()
        with pytest.raises(DoesNotFit, match="nothing would remain"):
            loads(HEALTHY48).without_block()


def test_stamps_can_be_set_and_cleared() -> None:
    save = loads(HEALTHY48)
    assert dumps(save.with_stamp(STAMP + 1)) == patched(HEALTHY48, 40, "65")
    assert dumps(save.with_stamp(None)) == HEALTHY48[:40] + bytes(8)


def test_a_save_is_a_value_with_a_short_repr() -> None:
    a, b = loads(memory() + HEALTHY48), loads(memory() + HEALTHY48)
    assert a == b
    assert len({a, b}) == 1
    assert "2,048 bytes of memory" in repr(a)
    assert len(repr(a)) < 400
    with pytest.raises(BadArgument, match="no memory image has this length"):
        SaveFile(memory=bytes(3))
    with pytest.raises(BadArgument, match="holds nothing"):
        SaveFile(memory=b"")
    with pytest.raises(BadArgument, match="not a clock block"):
        a.with_block("block48")  # type: ignore[arg-type]


def test_a_wrong_call_is_told_from_a_wrong_file() -> None:
    with pytest.raises(BadArgument, match="this is not a save"):
        check(HEALTHY48)  # type: ignore[arg-type]
    assert issubclass(BadArgument, ValueError)


HUGE = 10**5_000


@pytest.mark.parametrize(
    "call",
    [
        lambda: loads(memory(), also_layouts=5),  # type: ignore[arg-type]
        lambda: loads(memory(), also_layouts=["block48"]),  # type: ignore[list-item]
        lambda: dumps(None),  # type: ignore[arg-type]
        lambda: SaveFile(memory=5),  # type: ignore[arg-type]
        lambda: SaveFile(memory="x" * 8_192),  # type: ignore[arg-type]
        lambda: SaveFile(memory=memory(), block=HEALTHY48),  # type: ignore[arg-type]
        lambda: CounterClock(seconds=HUGE, minutes=0, hours=0, day_counter=0),
        lambda: CounterClock.from_seconds(HUGE),
        lambda: loads(HEALTHY48).with_stamp(HUGE),
        lambda: loads(HEALTHY48).advance_to(HUGE),
        lambda: check(loads(HEALTHY48), now=HUGE),
        lambda: check(loads(HEALTHY48), header=5),  # type: ignore[arg-type]
    ],
)
def test_wrong_arguments_raise_our_own_error(call: Callable[[], object]) -> None:
    with pytest.raises(BadArgument):
        call()


def test_memory_that_could_change_is_copied() -> None:
    image = bytearray(memory())
    save = SaveFile(memory=image)  # type: ignore[arg-type]
    image[0] ^= 0xFF
    assert save.memory == memory()
