"""The strategies draw what they say, and our own rules hold for all that they draw."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, find, given, settings
from hypothesis import strategies as st
from known import WORKSHOP

import rtcsave
from rtcsave import BadArgument, CalendarChip, ClockBlock, CounterChip, MinuteChip, strategies
from rtcsave.strategies import NOW, BusAccess, CartridgeHistory

KINDS = ("counter", "minutes", "calendar")
BENCH_LAYOUT = rtcsave.describe(WORKSHOP)
CHIPS: dict[str, Any] = {"counter": CounterChip, "minutes": MinuteChip, "calendar": CalendarChip}
kinds = st.sampled_from(KINDS)


@given(clock=strategies.clocks())
def test_clocks_are_in_range_and_keep_their_reading(clock: rtcsave.Clock) -> None:
    assert clock.in_range
    assert not clock.halted
    assert not clock.carried
    assert type(clock).from_reading(clock.reading()).reading() == clock.reading()


@given(data=st.data(), kind=kinds)
def test_registers_are_those_that_a_chip_can_hold(data: st.DataObject, kind: str) -> None:
    raw = data.draw(strategies.registers(kind))
    clock = rtcsave.layouts.fields.CLOCKS[kind].from_registers(raw)
    assert clock.registers() == raw


@given(block=strategies.blocks())
def test_healthy_blocks_have_no_finding_but_that_of_the_leap_counter(block: ClockBlock) -> None:
    save = rtcsave.SaveFile(memory=b"", block=block)
    codes = {finding.code for finding in rtcsave.check(save, now=NOW)}
    assert codes <= {"register-leap-disagrees"}


@given(block=strategies.blocks(in_range=False))
def test_any_block_survives_reading_and_writing(block: ClockBlock) -> None:
    save = rtcsave.loads(block.raw, layout=block.layout)
    assert save.block == block
    assert rtcsave.dumps(save) == block.raw


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(data=strategies.saves())
def test_healthy_saves_are_healthy(data: bytes) -> None:
    seen = rtcsave.examine(data, now=NOW)
    assert seen.save is not None
    assert seen.findings == ()
    assert rtcsave.dumps(seen.save) == data


@pytest.mark.parametrize("code", strategies.DAMAGES)
def test_each_damage_is_found(code: str) -> None:
    @settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
    @given(data=strategies.saves(code))
    def found(data: bytes) -> None:
        codes = [finding.code for finding in rtcsave.examine(data, now=NOW).findings]
        assert code in codes
        # it is the one cause; latched registers may follow from the running ones
        assert set(codes) <= {code, "latched-later", "latched-exchanged"}

    found()


def test_what_they_draw_shrinks_to_something_readable() -> None:
    clock = find(strategies.clocks("counter"), lambda c: c.to_seconds() >= 86_400)
    assert clock.reading() == "1d00:00:00"
    history = find(strategies.histories(), lambda h: "halted" in " ".join(h.events))
    assert history.events == ("dumped", "halted for 1 s", "dumped")
    program = find(strategies.accesses(), lambda steps: any(step.kind == "write" for step in steps))
    assert program == [BusAccess(kind="write", address=0x0000, value=0x00)]


@given(history=strategies.histories())
def test_histories_keep_the_truth(history: CartridgeHistory) -> None:
    assert len(history.dumps) >= 2
    assert history.elapsed_s >= 0
    quiet = {"ran", "dumped"}
    if {event.split()[0].rstrip(",") for event in history.events} <= quiet:
        first, last = history.dumps[0].save, history.dumps[-1].save
        counted_s = (
            last.clock_block.running.to_seconds() - first.clock_block.running.to_seconds()
        ) % (512 * 86_400)
        true_s = history.elapsed_s * (1 + history.rate_ppm / 1e6) % (512 * 86_400)
        assert min(abs(counted_s - true_s), 512 * 86_400 - abs(counted_s - true_s)) < 2


@given(history=strategies.histories())
def test_the_elapsed_time_holds_the_truth_where_nothing_was_done(history: CartridgeHistory) -> None:
    if any(event.startswith(("halted", "stopped", "set", "dumped,")) for event in history.events):
        return
    first, last = history.dumps[0].save, history.dumps[-1].save
    seen = rtcsave.elapsed(first, last, now=NOW)
    assert seen.low_s is not None
    assert seen.high_s is not None
    assert seen.low_s - 2 <= history.elapsed_s <= seen.high_s + 2


@given(data=st.data(), kind=kinds)
def test_a_state_is_all_of_a_chip(data: st.DataObject, kind: str) -> None:
    before = data.draw(strategies.accesses(kind))
    after = data.draw(strategies.accesses(kind))
    chip = CHIPS[kind](data.draw(strategies.clocks(kind, in_range=False)))
    for access in before:
        access.on(chip)
    state = chip.state
    other = type(chip).from_state(state)
    assert other.state == state
    assert [access.on(chip) for access in after] == [access.on(other) for access in after]
    assert chip.state == other.state
    chip.state = state
    assert chip.state == state


@given(
    block=st.one_of(
        strategies.blocks(in_range=False), strategies.blocks([BENCH_LAYOUT], in_range=False)
    )
)
def test_a_chip_gives_every_byte_back_that_the_clock_does_not_own(block: ClockBlock) -> None:
    after = CHIPS[block.layout.clock].from_block(block).to_block(None)
    owned = {
        at
        for field in block.layout.fields
        if field.part in ("running", "latched", "stamp", "checksum")
        for at in range(field.offset, field.end)
    }
    kept = [at for at in range(block.layout.size) if at not in owned]
    assert [after.raw[at] for at in kept] == [block.raw[at] for at in kept]
    assert after.stray() == block.stray()
    assert after.running == block.running
    if block.layout.stamp is None and block.layout.checksum is None:
        assert after.raw == block.raw


@pytest.mark.parametrize(
    "call",
    [
        lambda: strategies.clocks("sundial"),
        lambda: strategies.registers("sundial"),
        lambda: strategies.accesses("sundial"),
        lambda: strategies.saves("rust"),
        lambda: strategies.blocks(["nothing"]),
    ],
)
def test_what_is_not_there(call: Any) -> None:
    with pytest.raises(BadArgument):
        call()


def test_without_hypothesis_it_says_what_to_install() -> None:
    code = "import sys; sys.modules['hypothesis'] = None; import rtcsave.strategies"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert 'pip install "rtcsave[hypothesis]"' in done.stderr
