"""The day-counter chip on the bus: what our own model says beyond the checks that anybody's clock can be
held to (`rtcsave.conformance`, run in `test_conformance.py`), to the tick.
"""

from __future__ import annotations

from rtcsave import CounterChip, CounterClock, sequence_to_write

TICKS = 32_768
SECONDS, DAY_HIGH = 0x08, 0x0C


def test_the_time_is_written_while_halted_with_waits_between() -> None:
    """Pan Docs, chapter on memory bank controllers: set halt before writing the time; leave 4 µs between
    accesses."""
    sequence = sequence_to_write(CounterClock(seconds=7, minutes=40, hours=13, day_counter=300))
    assert sequence.spacing_us == 4
    assert (sequence.steps[0].address, sequence.steps[0].value) == (0x0000, 0x0A)
    selected, written = 0, []
    for step in sequence:
        if step.kind == "write" and step.address == 0x4000:
            selected = step.value or 0
        if step.kind == "write" and step.address == 0xA000:
            written.append((selected, step.value))
    assert written == [
        (0x0C, 0x41), (0x08, 0x07), (0x08, 0x07), (0x09, 0x28), (0x0A, 0x0D), (0x0B, 0x2C), (0x0C, 0x01)
    ]  # fmt: skip


def opened(*registers: int) -> CounterChip:
    chip = CounterChip()
    chip.write(0x0000, 0x0A)
    for index, value in enumerate(registers):
        put(chip, 0x08 + index, value)
    return chip


def put(chip: CounterChip, select: int, value: int) -> None:
    chip.write(0x4000, select)
    chip.write(0xA000, value)


def test_selects() -> None:
    """Pan Docs, chapter on memory bank controllers: 4000h-5FFFh: 00h-07h a memory bank, 08h-0Ch a clock
    register. Common practice: FFh where nothing is selected."""
    chip = opened()
    for bank in range(8):
        chip.write(0x5FFF, bank)
        assert chip.memory_bank == bank
        assert chip.read(0xA000) is None
    for select in range(0x08, 0x0D):
        chip.write(0x4000, select)
        assert chip.memory_bank is None
        assert chip.read(0xBFFF) == 0
    chip.write(0x4000, 0x0D)
    assert chip.read(0xA000) == 0xFF
    assert chip.memory_bank is None
    chip.write(0x4000, 0)
    chip.write(0x0000, 0)
    assert chip.memory_bank is None


def ticks_to_next(chip: CounterChip) -> int:
    """Ticks until the seconds move."""
    before = chip.snapshot()
    probe = CounterChip(before)
    probe.run(ticks=chip.divider_ticks)
    passed = 0
    while probe.snapshot() == before:
        probe.run(ticks=1)
        passed += 1
    return passed


def test_writing_seconds_restarts_the_second() -> None:
    """Hardware measurements, public domain: the seconds register was written in the middle of a second;
    the next tick comes a full 1000 ms later."""
    chip = opened()
    chip.run(ticks=13_107)  # 400 ms
    put(chip, SECONDS, 7)
    assert ticks_to_next(chip) == TICKS


def test_halting_freezes_the_fraction_to_the_tick() -> None:
    """Hardware measurements, public domain: halted 400 ms before a tick and released later, the clock
    ticks 400 ms after the release."""
    chip = opened()
    chip.run(ticks=TICKS - 13_107)
    put(chip, DAY_HIGH, 0x40)
    chip.run(seconds=1_000)
    put(chip, DAY_HIGH, 0x00)
    chip.run(ticks=13_106)
    assert chip.snapshot().seconds == 0
    chip.run(ticks=1)
    assert chip.snapshot().seconds == 1


def test_seconds_and_ticks_are_the_same_time() -> None:
    """Pan Docs, chapter on memory bank controllers: a crystal of 32,768 Hz, divided by 2^15."""
    chip = opened()
    chip.run(ticks=TICKS - 1)
    assert chip.snapshot().seconds == 0
    chip.run(ticks=1)
    assert chip.snapshot().seconds == 1
    chip.run(0.5)
    assert chip.divider_ticks == 16_384
    chip.run(seconds=10**9)
    assert chip.snapshot() == CounterClock(seconds=0, minutes=0, hours=0, day_counter=0).advance(
        10**9 + 1
    )
