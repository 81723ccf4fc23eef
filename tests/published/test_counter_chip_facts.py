"""The day-counter chip on the bus, line by line.

PD: Pan Docs, chapter on memory bank controllers. HT: hardware measurements, public domain: the
written expectations of a test run on real chips, each situation in words.
"""

from __future__ import annotations

import pytest

from rtcsave import BadArgument, CounterChip, CounterClock, sequence_to_write

TICKS = 32_768
SECONDS, MINUTES, HOURS, DAY_LOW, DAY_HIGH = 0x08, 0x09, 0x0A, 0x0B, 0x0C


def test_the_time_is_written_while_halted_with_waits_between() -> None:
    # PD: set halt before writing the time; leave 4 µs between accesses
    sequence = sequence_to_write(CounterClock(seconds=7, minutes=40, hours=13, day_counter=300))
    assert sequence.spacing_us == 4
    assert [(step.address, step.value) for step in sequence][:11] == [
        (0x0000, 0x0A),
        (0x4000, 0x0C), (0xA000, 0x41),
        (0x4000, 0x08), (0xA000, 0x07), (0x4000, 0x09), (0xA000, 0x28),
        (0x4000, 0x0A), (0xA000, 0x0D), (0x4000, 0x0B), (0xA000, 0x2C),
    ]  # fmt: skip
    assert (sequence.steps[23].address, sequence.steps[23].value) == (0xA000, 0x01)


def opened(*registers: int) -> CounterChip:
    chip = CounterChip()
    chip.write(0x0000, 0x0A)
    for index, value in enumerate(registers):
        put(chip, 0x08 + index, value)
    return chip


def put(chip: CounterChip, select: int, value: int) -> None:
    chip.write(0x4000, select)
    chip.write(0xA000, value)


def latched(chip: CounterChip) -> list[int | None]:
    chip.write(0x6000, 0x00)
    chip.write(0x6000, 0x01)
    found = []
    for select in range(0x08, 0x0D):
        chip.write(0x4000, select)
        found.append(chip.read(0xA000))
    return found


def after(*registers: int, seconds: int = 1) -> list[int | None]:
    chip = opened(*registers)
    chip.run(seconds=seconds)
    return latched(chip)


def test_everything_starts_at_0() -> None:
    chip = opened()
    assert latched(chip) == [0, 0, 0, 0, 0]
    assert chip.divider_ticks == 0
    assert CounterChip().is_open is False


def test_open_and_closed() -> None:
    # PD: 0000h-1FFFh: 0Ah opens memory and clock registers, 00h closes them
    chip = opened(5)
    chip.write(0x1FFF, 0x00)
    assert not chip.is_open
    put(chip, SECONDS, 33)
    assert chip.snapshot().seconds == 5
    # common practice: FFh when closed
    assert chip.read(0xA000) == 0xFF
    chip.write(0x1000, 0x0A)
    assert chip.is_open


def test_selects() -> None:
    # PD: 4000h-5FFFh: 00h-07h a memory bank, 08h-0Ch a clock register
    chip = opened()
    for bank in range(8):
        chip.write(0x5FFF, bank)
        assert chip.memory_bank == bank
        assert chip.read(0xA000) is None
    for select in range(0x08, 0x0D):
        chip.write(0x4000, select)
        assert chip.memory_bank is None
        assert chip.read(0xBFFF) == 0
    # common practice: FFh when nothing is selected
    chip.write(0x4000, 0x0D)
    assert chip.read(0xA000) == 0xFF
    assert chip.memory_bank is None
    chip.write(0x4000, 0)
    chip.write(0x0000, 0)
    assert chip.memory_bank is None


def test_latch_on_00_then_01_and_only_then() -> None:
    # PD: 6000h-7FFFh: 00h then 01h copies the time; it stays frozen until the next 00h, 01h
    chip = opened()
    chip.run(seconds=5)
    chip.write(0x4000, SECONDS)
    assert chip.read(0xA000) == 0
    chip.write(0x6000, 0x01)
    assert chip.read(0xA000) == 0
    chip.write(0x6000, 0x00)
    assert chip.read(0xA000) == 0
    chip.write(0x6000, 0x02)
    chip.write(0x6000, 0x01)
    assert chip.read(0xA000) == 0
    chip.write(0x7FFF, 0x00)
    chip.write(0x7FFF, 0x01)
    assert chip.read(0xA000) == 5
    chip.run(seconds=1)
    chip.write(0x6000, 0x01)
    assert chip.read(0xA000) == 5
    chip.write(0x6000, 0x00)
    chip.write(0x6000, 0x01)
    assert chip.read(0xA000) == 6


def test_any_address_of_the_window() -> None:
    # PD: A000h-BFFFh: the selected register, any address in the range
    chip = opened()
    chip.write(0x4000, MINUTES)
    chip.write(0xBEEF, 33)
    assert latched(chip)[1] == 33
    chip.write(0x4000, MINUTES)
    assert {chip.read(address) for address in (0xA000, 0xABCD, 0xBFFF)} == {33}


def test_masks() -> None:
    # HT: all bits written, only the valid ones read back: 3Fh, 3Fh, 1Fh, FFh, C1h
    assert latched(opened(0xFF, 0xFF, 0xFF, 0xFF, 0xFF)) == [0x3F, 0x3F, 0x1F, 0xFF, 0xC1]


def test_one_tick_a_second_while_halt_is_0_and_none_while_it_is_1() -> None:
    # HT
    assert after(10, seconds=1)[0] == 11
    assert after(10, 0, 0, 0, 0x40, seconds=100)[0] == 10


@pytest.mark.parametrize(
    ("before", "expected"),
    [
        # HT, PD: proper rollovers
        ((59, 0, 0, 0, 0), [0, 1, 0, 0, 0]),
        ((59, 59, 0, 0, 0), [0, 0, 1, 0, 0]),
        ((59, 59, 23, 0, 0), [0, 0, 0, 1, 0]),
        ((59, 59, 23, 255, 0), [0, 0, 0, 0, 1]),
        # HT, PD: 511 days 23:59:59 to day 0 with carry; carry stays
        ((59, 59, 23, 255, 1), [0, 0, 0, 0, 0x80]),
        ((59, 59, 23, 255, 0x81), [0, 0, 0, 0, 0x80]),
        # HT: 28:63:60 counts
        ((60, 63, 28, 5, 0), [61, 63, 28, 5, 0]),
        # HT: past the bit width to 0 without carrying
        ((63, 10, 5, 5, 0), [0, 10, 5, 5, 0]),
        ((59, 63, 5, 5, 0), [0, 0, 5, 5, 0]),
        ((59, 59, 31, 5, 0), [0, 0, 0, 5, 0]),
        # HT: 60 to 62 minutes and 24 to 30 hours still increment
        ((59, 60, 5, 5, 0), [0, 61, 5, 5, 0]),
        ((59, 59, 24, 5, 0), [0, 0, 25, 5, 0]),
    ],
)
def test_counting(before: tuple[int, ...], expected: list[int]) -> None:
    assert after(*before) == expected


def test_software_clears_carry() -> None:
    # HT, PD: sticky until software clears it
    chip = opened(59, 59, 23, 255, 1)
    chip.run(seconds=1)
    assert chip.snapshot().carry
    put(chip, DAY_HIGH, 0x00)
    assert not chip.snapshot().carry


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
    # HT: the next tick is a full 1000 ms later
    chip = opened()
    chip.run(ticks=13_107)  # 400 ms
    put(chip, SECONDS, 7)
    assert ticks_to_next(chip) == TICKS


@pytest.mark.parametrize("select", [MINUTES, HOURS, DAY_LOW, DAY_HIGH])
def test_writing_the_others_does_not(select: int) -> None:
    # HT: 600 ms to go stays 600 ms to go
    chip = opened()
    chip.run(ticks=13_107)
    put(chip, select, 1)
    assert ticks_to_next(chip) == TICKS - 13_107


def test_halting_freezes_the_fraction_to_the_tick() -> None:
    # HT: halted 400 ms before a tick, released later, it ticks 400 ms after release
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


@pytest.mark.parametrize(
    "wrong",
    [{}, {"seconds": 1, "ticks": 1}, {"ticks": -1}, {"ticks": 1.5}, {"seconds": -1},
     {"seconds": float("nan")}, {"seconds": 1e308}, {"seconds": True}, {"seconds": "1"}],
)  # fmt: skip
def test_time_that_is_none(wrong: dict[str, float]) -> None:
    with pytest.raises(BadArgument):
        CounterChip().run(**wrong)  # type: ignore[arg-type]
