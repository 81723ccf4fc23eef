"""The minute chip and the calendar chip on the bus: what our own models say beyond the checks of
`rtcsave.conformance`, which `test_conformance.py` runs.
"""

from __future__ import annotations

from rtcsave import CalendarChip, CalendarClock, MinuteChip, MinuteClock

WINDOW = 0xA000


def command(chip: MinuteChip, value: int) -> None:
    """As Pan Docs has it: map 0Dh, poll bit 0; map 0Bh, write the byte; map 0Dh, write FEh; poll bit 0."""
    chip.write(0x0000, 0x0D)
    while not chip.read(WINDOW) & 1:  # type: ignore[operator]
        pass
    chip.write(0x0000, 0x0B)
    chip.write(WINDOW, value)
    chip.write(0x0000, 0x0D)
    chip.write(WINDOW, 0xFE)
    while not chip.read(WINDOW) & 1:  # type: ignore[operator]
        pass


def response(chip: MinuteChip) -> int:
    """As Pan Docs has it: map 0Ch and take the low nibble."""
    chip.write(0x0000, 0x0C)
    value = chip.read(WINDOW)
    assert value is not None
    return value & 0xF


def read_at(chip: MinuteChip, location: int, count: int) -> list[int]:
    command(chip, 0x40 | location & 0xF)
    command(chip, 0x50 | location >> 4)
    found = []
    for _ in range(count):
        command(chip, 0x10)
        found.append(response(chip))
    return found


def write_at(chip: MinuteChip, location: int, nibbles: list[int]) -> None:
    command(chip, 0x40 | location & 0xF)
    command(chip, 0x50 | location >> 4)
    for nibble in nibbles:
        command(chip, 0x30 | nibble)


class TestMinuteChip:
    def test_the_time_lies_at_10h_and_the_event_at_58h(self) -> None:
        """Pan Docs, chapter on memory bank controllers: the locations, read by commands."""
        clock = MinuteClock(
            minute_of_day=0x59F, day_counter=0xABC, event_minutes=0x123, event_days=0x456
        )
        chip = MinuteChip(clock)
        assert read_at(chip, 0x10, 6) == [0xF, 9, 5, 0xC, 0xB, 0xA]
        assert read_at(chip, 0x58, 6) == [3, 2, 1, 6, 5, 4]

    def test_6_0_copies_the_time_to_the_staging_area(self) -> None:
        """Pan Docs, chapter on memory bank controllers: command 6, argument 0; which digit lies where in
        the staging area is assumed, and that 06h is kept."""
        chip = MinuteChip(MinuteClock(minute_of_day=0x59F, day_counter=0xABC))
        write_at(chip, 0x06, [7])
        command(chip, 0x60)
        assert read_at(chip, 0x00, 7) == [0xF, 9, 5, 0xC, 0xB, 0xA, 7]

    def test_6_1_sets_the_time_and_keeps_the_time_left_to_the_event(self) -> None:
        """Pan Docs, chapter on memory bank controllers: command 6, argument 1; which digit lies where in
        the staging area is assumed."""
        chip = MinuteChip(
            MinuteClock(minute_of_day=100, day_counter=5, event_minutes=160, event_days=7)
        )
        write_at(chip, 0x00, [0, 0, 0, 9, 0, 0])  # minute 0 of day 9
        command(chip, 0x61)
        # the event was two days and an hour away, and still is
        assert chip.snapshot() == MinuteClock(
            minute_of_day=0, day_counter=9, event_minutes=60, event_days=11
        )

    def test_minutes_pass(self) -> None:
        """Pan Docs, chapter on memory bank controllers: the minute rolls over at 1440; that day 4095 is
        followed by 0 is assumed."""
        chip = MinuteChip(MinuteClock(minute_of_day=1_439, day_counter=4_095))
        chip.run(ticks=60 * 32_768 - 1)
        assert chip.snapshot().minute_of_day == 1_439
        chip.run(ticks=1)
        assert chip.snapshot() == MinuteClock(minute_of_day=0, day_counter=0)

    def test_bit_7_is_not_connected(self) -> None:
        """Pan Docs, chapter on memory bank controllers: bit 7 is not connected; that it reads as 1 is
        assumed."""
        chip = MinuteChip()
        for mapped in (0x0C, 0x0D):
            chip.write(0x1FFF, mapped)
            assert chip.read(WINDOW) & 0x80  # type: ignore[operator]


def calendar() -> CalendarChip:
    return CalendarChip(
        CalendarClock(
            year=24, month=2, day=28, weekday=3, hours=23, minutes=59, seconds=59, leap_counter=0
        )
    )


class TestCalendarChip:
    def test_banks_by_the_mode_register(self) -> None:
        """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6: register 13 bits 0-1; it shows in
        every bank."""
        chip = calendar()
        for bank in range(4):
            chip.write(13, 0x8 | bank)
            assert chip.read(13) == 0x8 | bank
        chip.write(13, 0x8)
        assert [chip.read(n) for n in range(13)] == [9, 5, 9, 5, 3, 2, 3, 8, 2, 2, 0, 4, 2]
        chip.write(13, 0x9)
        assert [chip.read(n) for n in (10, 11)] == [1, 0]

    def test_counting_through_a_leap_day(self) -> None:
        """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6; the operating-system kernel's driver
        for the RP5C01: leap counter 0 gives February 29 days; the weekday counts modulo 7."""
        chip = calendar()
        chip.run(seconds=1)
        assert chip.snapshot().reading() == "24-02-29 00:00:00"
        chip.run(seconds=86_400)
        assert chip.snapshot().reading() == "24-03-01 00:00:00"
        assert chip.snapshot().weekday == 5

    def test_the_timer_bit_freezes_the_seconds_while_the_divider_runs_on(self) -> None:
        """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6; the operating-system kernel's driver
        for the RP5C01: mode bit 3."""
        chip = calendar()
        chip.run(ticks=10_000)
        chip.write(13, 0x0)
        chip.run(ticks=32_768 * 5)
        assert chip.snapshot().reading() == "24-02-28 23:59:59"
        chip.write(13, 0x8)
        chip.run(ticks=32_768 - 10_001)
        assert chip.snapshot().reading() == "24-02-28 23:59:59"
        chip.run(ticks=1)
        assert chip.snapshot().reading() == "24-02-29 00:00:00"

    def test_reset_clears_the_fraction_and_the_alarm(self) -> None:
        """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6; the operating-system kernel's driver
        for the RP5C01: register 15 bit 1 clears the fraction of a second, bit 0 the alarm."""
        chip = calendar()
        chip.run(ticks=32_767)
        chip.write(15, 0x2)
        chip.run(ticks=32_767)
        assert chip.snapshot().reading() == "24-02-28 23:59:59"
        chip.write(13, 0x9)
        for n in range(2, 9):
            chip.write(n, 1)
        chip.write(15, 0x1)
        assert [chip.read(n) for n in range(2, 9)] == [0] * 7
        assert chip.read(10) == 1

    def test_test_and_reset_are_write_only(self) -> None:
        """MSX2 Technical Handbook, ASCII Corp., chapter 5 section 6; the operating-system kernel's driver
        for the RP5C01; that they read as 0 is assumed."""
        chip = calendar()
        chip.write(14, 0xF)
        assert (chip.read(14), chip.read(15), chip.read(16)) == (0, 0, None)
