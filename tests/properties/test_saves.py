"""Saves: every bit survives, memory is never touched, only the library's own errors come out."""

from __future__ import annotations

import contextlib
import random
import struct

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from known import HEALTHY48, MEMORY_SIZES, NOW

import rtcsave
from rtcsave import strategies
from rtcsave.clocks import CounterClock
from rtcsave.findings.examination import _OF_THE_WORDS, _UNWRAPPED, applicable, recognise
from rtcsave.findings.healthy import has_healthy_words, is_healthy
from rtcsave.findings.scene import Scene
from rtcsave.layouts._engine import number
from rtcsave.layouts.builtin import BUILT_IN
from rtcsave.layouts.codec import codec

SIZES = {layout.name: layout.size for layout in BUILT_IN}
# Most of a memory image is the same byte: hypothesis need not choose 128 KiB one by one.
images = st.sampled_from((0, *MEMORY_SIZES)).flatmap(
    lambda size: st.binary(min_size=min(size, 64), max_size=min(size, 64)).map(
        lambda head: head.ljust(size, b"\x5a")
    )
)


@given(data=st.binary(max_size=600))
@example(data=b"")
@example(data=bytes(48))
@example(data=bytes(44))
def test_any_bytes_give_a_save_or_an_error_of_ours(data: bytes) -> None:
    with contextlib.suppress(rtcsave.RtcSaveError):
        assert rtcsave.dumps(rtcsave.loads(data, now=NOW)) == data
    seen = rtcsave.examine(data, now=NOW)
    assert seen.data == data
    assert (seen.save is None) == (seen.refusal is not None)


@given(memory=images, words=st.lists(st.integers(0, 2**32 - 1), min_size=12, max_size=12))
def test_any_block_survives_under_its_named_layout(memory: bytes, words: list[int]) -> None:
    tail = b"".join(word.to_bytes(4, "little") for word in words)
    for layout in BUILT_IN:
        if layout.standalone:
            continue
        data = memory + tail[: layout.size]
        save = rtcsave.loads(data, layout=layout.name)
        assert rtcsave.dumps(save) == data
        assert save.memory == memory
        for view in (save.block.running, save.block.latched):  # type: ignore[union-attr]
            assert isinstance(view, CounterClock)
        rtcsave.check(save, now=NOW)


registers = strategies.registers("counter")


@st.composite
def blocks(draw: st.DrawFn) -> tuple[str, bytes]:
    """A clock block with legal registers in any layout with words, with any stamp."""
    name = draw(st.sampled_from(("block48", "block44", "block48-be", "block44-be")))
    order = "big" if name.endswith("-be") else "little"
    words = (*draw(registers), *draw(registers))
    stamp_bytes = SIZES[name] - 40
    stamp = draw(
        st.one_of(
            st.integers(0, 2 ** (8 * stamp_bytes) - 1),
            st.integers(788_918_400, 2_000_000_000),
            st.just(0),
        )
    )
    body = b"".join(word.to_bytes(4, order) for word in words)  # type: ignore[arg-type]
    return name, body + stamp.to_bytes(stamp_bytes, order)  # type: ignore[arg-type]


@given(memory=images, block=blocks())
def test_a_legal_block_is_found_in_its_own_order(memory: bytes, block: tuple[str, bytes]) -> None:
    name, raw = block
    if not any(raw[:40]):
        return  # all words zero: both orders read alike, and the stamp decides
    save = rtcsave.loads(memory + raw, now=NOW)
    assert save.block is not None
    assert (save.block.layout.name, save.block.raw, save.memory) == (name, raw, memory)


@given(block=blocks(), seconds=st.integers(0, 10**9))
def test_advancing_touches_running_words_and_stamp_only(
    block: tuple[str, bytes], seconds: int
) -> None:
    name, raw = block
    memory = bytes(range(256))
    save = rtcsave.loads(memory + raw, layout=name)
    try:
        after = save.advance_by(seconds)
    except rtcsave.DoesNotFit:
        return  # the stamp cannot say the later instant
    data = rtcsave.dumps(after)
    assert data[:256] == memory
    assert data[256 + 20 : 256 + 40] == raw[20:40]
    assert after.block is not None
    assert after.block.running == save.block.running.advance(seconds)  # type: ignore[union-attr]


@given(block=blocks(), a=st.integers(0, 10**8), b=st.integers(0, 10**8))
def test_advancing_twice_is_advancing_once(block: tuple[str, bytes], a: int, b: int) -> None:
    name, raw = block
    save = rtcsave.loads(raw, layout=name).with_stamp(1_000_000_000)
    assert save.advance_to(1_000_000_000 + a).advance_to(1_000_000_000 + a + b) == save.advance_to(
        1_000_000_000 + a + b
    )


@given(
    raw=st.binary(min_size=48, max_size=48),
    past_range=st.sampled_from(("as-time", "zero")),
    saved_at=st.sampled_from((None, NOW - 1000)),
)
@example(raw=HEALTHY48, past_range="as-time", saved_at=None)
def test_repair_is_idempotent_and_leaves_memory_alone(
    raw: bytes, past_range: str, saved_at: int | None
) -> None:
    memory = bytes(range(256)) * 2
    save = rtcsave.loads(memory + raw, layout="block48")
    plan = rtcsave.plan_repair(save, now=NOW, saved_at=saved_at, past_range=past_range)
    repaired = plan.apply()
    assert repaired.memory == memory
    assert all(change.offset >= len(memory) for step in plan.steps for change in step.changes)
    again = rtcsave.plan_repair(repaired, now=NOW, saved_at=saved_at, past_range=past_range)
    assert again.steps == ()
    assert again.apply() == repaired


@given(raw=st.binary(min_size=48, max_size=48))
def test_the_bytes_that_a_plan_names_are_the_bytes_that_change(raw: bytes) -> None:
    save = rtcsave.loads(raw, layout="block48")
    plan = rtcsave.plan_repair(save, now=NOW)
    data = bytearray(raw)
    for step in plan.steps:
        for change in step.changes:
            end = change.offset + len(change.old)
            assert bytes(data[change.offset : end]) == change.old
            data[change.offset : end] = change.new
    assert bytes(data) == rtcsave.dumps(plan.apply())


@given(raw=st.binary(min_size=48, max_size=48), name=st.sampled_from(sorted(SIZES)))
def test_fast_path_and_construct_read_the_same(raw: bytes, name: str) -> None:
    layout = next(candidate for candidate in BUILT_IN if candidate.name == name)
    block_bytes = raw[: layout.size]
    block = layout.construct().parse(block_bytes)
    assert (block.layout, block.raw) == (layout, block_bytes)
    assert layout.construct().build(block) == block_bytes
    assert codec(layout).struct_format is not None
    parsed = dict(
        zip((f.name for f in layout.fields), codec(layout).words(block_bytes), strict=True)
    )
    by_engine = {
        f.name: number(f.size, codec(layout).is_signed(f), f.order == "little").parse(
            block_bytes[f.offset : f.end]
        )
        for f in layout.fields
    }
    assert parsed == by_engine
    if layout.clock != "counter":
        return
    for part in ("running", "latched"):
        by_table = dict.fromkeys((field.name for field in CounterClock.FIELDS), 0)
        for word in layout.part(part):  # type: ignore[arg-type]
            for bits in word.bits:
                by_table[bits.field] |= (parsed[word.name] >> bits.at & (1 << bits.width) - 1) << (
                    bits.onto
                )
        seen = codec(layout).clock_in(block_bytes, part)  # type: ignore[arg-type]
        if seen is not None:
            assert seen == CounterClock.from_values(by_table)


@given(block=blocks(), target=st.sampled_from(("block48", "block44", "block48-be", "block44-be")))
def test_converting_there_and_back_keeps_every_value(block: tuple[str, bytes], target: str) -> None:
    name, raw = block
    save = rtcsave.loads(raw, layout=name)
    try:
        there = save.with_layout(target)
    except rtcsave.DoesNotFit:
        stamp = save.block.stamp  # type: ignore[union-attr]
        assert "44" in target
        assert not 0 <= stamp < 2**32  # type: ignore[operator]
        return
    assert there.block.running == save.block.running  # type: ignore[union-attr]
    assert there.block.latched == save.block.latched  # type: ignore[union-attr]
    back = there.with_layout(name)
    assert back.block.saved_at == save.block.saved_at  # type: ignore[union-attr]
    if "44" not in target or "44" in name:
        assert back == save


@given(
    raw=blocks(),
    flips=st.lists(st.tuples(st.integers(0, 47), st.integers(0, 255)), max_size=3),
    later=st.integers(-86_400, 600 * 86_400),
)
def test_the_quick_look_at_words_never_passes_over_a_finding(
    raw: tuple[str, bytes], flips: list[tuple[int, int]], later: int
) -> None:
    name, data = raw
    changed = bytearray(data)
    for at, value in flips:
        changed[at % len(changed)] = value
    save = rtcsave.loads(bytes(changed), layout=name)
    assert save.block is not None
    scene = Scene(data=bytes(changed), save=save, now_s=NOW + later)
    assert scene.block is not None
    if has_healthy_words(scene.block.block, NOW + later):
        assert [f.code for kind in _OF_THE_WORDS for f in kind.findings(scene)] == []


@given(
    raw=blocks(),
    stamp=st.one_of(
        st.sampled_from((0, -1, 1, NOW * 1_000, (NOW + 3_600), NOW + 10**7, 2**62, 600_000_000)),
        st.integers(NOW - 900 * 86_400, NOW + 86_400),
        st.integers(-(2**63), 2**63 - 1),
    ),
)
def test_what_is_looked_for_where_the_registers_are_healthy(
    raw: tuple[str, bytes], stamp: int
) -> None:
    name, data = raw
    layout = rtcsave.LAYOUTS[name]
    size = 0 if layout.stamp is None else layout.stamp.size
    data = data[: len(data) - size] + (stamp % 2 ** (8 * size)).to_bytes(size, "little")
    save = rtcsave.loads(data, layout=name)
    scene = Scene(data=data, save=save, now_s=NOW)
    every = [f for kind in _UNWRAPPED for f in kind.findings(scene)]
    assert [f for kind in applicable(scene) for f in kind.findings(scene)] == every


def odd_images() -> st.SearchStrategy[bytes]:
    """Memory images of every legal length but the largest two: mixed, blank, mirrored, padded after a
    block, and like RAM without power."""

    def image(drawn: tuple[int, int, bytes, int, bytes]) -> bytes:
        size, kind, part, seed, block = drawn
        chance = random.Random(seed)
        if kind == 0:
            return chance.randbytes(size)
        if kind == 1:
            return part[:1] * size
        if kind == 2:
            whole = chance.randbytes(size // 2)
            return whole + whole
        if kind == 3:
            return b"".join(chance.choice((b"\0", b"\xff")) * 16 for _ in range(size // 16))
        small = chance.randbytes(256) if size == 512 else chance.randbytes(512)
        return (small + block).ljust(size, part[:1])[:size]

    return st.tuples(
        st.sampled_from((256, 512, 2_048, 8_192, 32_768)),
        st.integers(0, 4),
        st.binary(min_size=1, max_size=1),
        st.integers(0, 2**32),
        blocks().map(lambda drawn: drawn[1]),
    ).map(image)


@given(memory=odd_images(), raw=blocks(), later=st.integers(0, 600 * 86_400))
def test_the_quick_look_at_a_save_never_passes_over_a_finding(
    memory: bytes, raw: tuple[str, bytes], later: int
) -> None:
    name, data = raw
    save = rtcsave.loads(data, layout=name)
    if not rtcsave.LAYOUTS[name].standalone:
        save = save.with_memory(memory)
    scene = Scene(data=rtcsave.dumps(save), save=save, now_s=NOW + later)
    if is_healthy(save, NOW + later):
        assert [finding.code for finding in recognise(scene)] == []


@pytest.mark.parametrize(
    ("image", "codes"),
    [
        (random.Random(2).randbytes(512), []),
        (bytes(512), ["memory-blank"]),
        (b"\xff" * 512, ["memory-blank"]),
        (random.Random(3).randbytes(2_048) * 4, ["memory-mirrored"]),
        ((b"\0" * 16 + b"\xff" * 16) * 16, ["memory-power-up"]),
    ],
)
def test_the_quick_look_at_an_image_says_what_the_entries_say(
    image: bytes, codes: list[str]
) -> None:
    raw = struct.pack("<10Iq", 7, 40, 13, 44, 1, 7, 40, 13, 44, 1, NOW - 60)
    save = rtcsave.loads(image + raw)
    assert [finding.code for finding in rtcsave.check(save, now=NOW)] == codes
    assert is_healthy(save, NOW) == (not codes)
