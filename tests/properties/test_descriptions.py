"""Arbitrary bytes through arbitrary valid descriptions: every bit survives."""

from __future__ import annotations

import contextlib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

import rtcsave
from rtcsave import describe, loads
from rtcsave.clocks import CalendarClock, Clock, CounterClock, MinuteClock
from rtcsave.layouts.annotation import annotate
from rtcsave.layouts.codec import codec

KINDS: tuple[type[Clock], ...] = (CounterClock, MinuteClock, CalendarClock)
NOW = 1_773_238_500


@st.composite
def descriptions(draw: st.DrawFn) -> dict[str, Any]:
    """A valid description: fields one after the other with gaps, in a shuffled order."""
    kind = draw(st.sampled_from(KINDS))
    at = 0
    fields: list[dict[str, Any]] = []

    def place(size: int) -> int:
        nonlocal at
        at += draw(st.integers(0, 3))
        here = at
        at += size
        return here

    for part in ("running", "latched") if draw(st.booleans()) else ("running",):
        for field in kind.FIELDS:
            if fields and draw(st.integers(0, 5)) == 0:
                continue
            least = -(-field.width // 8)
            bcd = not field.is_flag and field.width <= 16 and draw(st.booleans())
            size = draw(st.integers(least + bcd, min(8, least + bcd + 2)))
            fields.append(
                {
                    "name": f"{part}_{field.name}",
                    "part": part,
                    "offset": place(size),
                    "bytes": size,
                    "order": draw(st.sampled_from(("little", "big"))),
                    "holds": field.name,
                    "coding": "bcd" if bcd else "binary",
                }
            )
    table: dict[str, Any] = {
        "name": "drawn",
        "clock": kind.kind,
        "field": draw(st.permutations(fields)),
    }
    if draw(st.booleans()):
        constant = draw(st.binary(min_size=1, max_size=4))
        table["constant"] = [{"offset": place(len(constant)), "hex": constant.hex()}]
    if draw(st.booleans()):
        size = draw(st.integers(4, 8))
        table["stamp"] = {
            "offset": place(size),
            "bytes": size,
            "signed": draw(st.booleans()),
            "unit": draw(st.sampled_from(("s", "ms", "us", "100ns"))),
            "epoch": draw(st.sampled_from(("unix", "1904-01-01", "2000-01-01"))),
            "zone": draw(st.sampled_from(("UTC", "Europe/London", "Asia/Kathmandu"))),
            "order": draw(st.sampled_from(("little", "big"))),
        }
    covered = at
    if covered and draw(st.booleans()):
        kind_of_sum = draw(st.sampled_from(("sum-8", "sum-16", "xor", "crc-16", "crc-32")))
        table["checksum"] = {"kind": kind_of_sum, "offset": place(4), "bytes": 4, "to": covered}
    table["size"] = at + draw(st.integers(0, 3))
    return table


@given(table=descriptions(), data=st.data())
def test_every_bit_survives_and_nothing_raises(table: dict[str, Any], data: st.DataObject) -> None:
    layout = describe(table)
    raw = data.draw(st.binary(min_size=layout.size, max_size=layout.size))
    save = loads(raw, layout)
    assert rtcsave.dumps(save) == raw
    block = save.clock_block
    assert layout.construct().parse(raw) == block
    assert layout.construct().build(block) == raw
    words = codec(layout).words(raw)
    for field, word in zip(layout.fields, words, strict=True):
        size = field.size
        assert word & (1 << 8 * size) - 1 == codec(layout).word(raw, field)
        assert codec(layout).put_word(raw, field, word) == raw
    rtcsave.check(save, now=NOW)
    _ = (block.running, block.latched, block.saved_at)
    plan = rtcsave.plan_repair(save, now=NOW)
    repaired = plan.apply()
    assert rtcsave.plan_repair(repaired, now=NOW).steps == ()
    seen = rtcsave.examine(raw, also_layouts=[layout], now=NOW)
    assert seen.data == raw


@given(table=descriptions(), data=st.data())
def test_putting_a_clock_changes_its_own_bits_only(
    table: dict[str, Any], data: st.DataObject
) -> None:
    layout = describe(table)
    raw = data.draw(st.binary(min_size=layout.size, max_size=layout.size))
    block = loads(raw, layout).clock_block
    with contextlib.suppress(rtcsave.DoesNotFit):
        again = block.with_clock(block.running)
        assert again.running == block.running
        if not codec(layout).misfits(raw):
            changed = [at for at in range(layout.size) if again.raw[at] != raw[at]]
            assert changed == []


@given(table=descriptions(), at=st.integers(788_918_401, 4_000_000_000))
def test_a_stamp_that_was_put_is_read_back(table: dict[str, Any], at: int) -> None:
    layout = describe(table)
    block = loads(codec(layout).blank(), layout).clock_block
    if layout.stamp is None:
        return
    with contextlib.suppress(rtcsave.DoesNotFit):
        # an hour that a zone goes through twice is refused
        assert block.with_stamp(at).saved_unix_s == at
    assert not codec(layout).checksum_wrong(block.with_stamp(None).raw)


@given(raw=st.binary(min_size=26, max_size=26))
def test_what_is_said_of_a_calendar_block_covers_each_byte(raw: bytes) -> None:
    block = rtcsave.loads(raw, layout="calendar26").clock_block
    words = annotate(block)
    assert b"".join(word.data for word in words) == raw
    assert all(word.meaning for word in words)
