"""Sequences made from clocks and blocks, what waits for their instant, and calls that are wrong."""

from __future__ import annotations

import time
from typing import Any

import pytest
from known import HEALTHY48, MINUTES12, STAMP

from rtcsave import (
    Access,
    BadArgument,
    CalendarChip,
    CalendarClock,
    CounterChip,
    CounterClock,
    MinuteChip,
    NotTaken,
    StampUnusable,
    loads,
    sequence_to_read,
    sequence_to_write,
)

CLOCK = CounterClock(seconds=7, minutes=40, hours=13, day_counter=300)


class Counting(CounterChip):
    """A chip that counts the accesses to it."""

    accesses = 0

    def read(self, address: int) -> int | None:
        self.accesses += 1
        return super().read(address)

    def write(self, address: int, value: int) -> None:
        self.accesses += 1
        super().write(address, value)


class TestOfABlock:
    def test_its_clock_is_advanced_from_its_stamp(self) -> None:
        block = loads(HEALTHY48).clock_block  # 300d13:40:07 at STAMP
        sequence = sequence_to_write(block, at=STAMP + 86_402)
        assert sequence.at_unix_s == STAMP + 86_402
        chip = CounterChip()
        sequence.replay(chip, at_due=lambda: None)
        assert chip.snapshot() == CLOCK.with_values(day_counter=301, seconds=9)

    def test_without_an_instant_it_is_as_it_stands(self) -> None:
        sequence = sequence_to_write(loads(HEALTHY48).clock_block)
        assert sequence.at_unix_s is None
        assert sequence.steps == sequence_to_write(CLOCK).steps

    @pytest.mark.parametrize(("later_s", "minutes"), [(0, 0), (1, 1), (59, 1), (60, 1), (61, 2)])
    def test_a_minute_clock_is_due_at_its_next_whole_minute(
        self, later_s: int, minutes: int
    ) -> None:
        save = loads(MINUTES12, layout="minutes12").advance_to(STAMP, saved_at=STAMP)
        sequence = sequence_to_write(save.clock_block, at=STAMP + later_s)
        assert sequence.at_unix_s == STAMP + 60 * minutes
        chip = MinuteChip()
        sequence.replay(chip, at_due=lambda: None)
        assert chip.snapshot() == save.clock_block.running.advance(60 * minutes)

    def test_one_that_does_not_say_when_is_refused(self) -> None:
        absent = loads(HEALTHY48[:40] + bytes(8)).clock_block
        with pytest.raises(StampUnusable, match="does not say when its clock was right"):
            sequence_to_write(absent, at=STAMP)
        assert len(sequence_to_write(absent)) > 50

    def test_one_of_later_is_refused(self) -> None:
        with pytest.raises(StampUnusable, match="right at a later instant"):
            sequence_to_write(loads(HEALTHY48).clock_block, at=STAMP - 1)


class TestTheInstant:
    def test_nothing_is_done_where_nothing_waits_for_it(self) -> None:
        chip = Counting()
        with pytest.raises(BadArgument, match="nothing waits for the instant"):
            sequence_to_write(CLOCK, at=STAMP).replay(chip)
        assert chip.accesses == 0

    def test_it_is_slept_for(self) -> None:
        at = int(time.time()) + 1
        sequence = sequence_to_write(CLOCK, at=at)
        chip = CounterChip()
        sequence.replay(chip, at_due=sequence.sleep_until_due)
        assert at <= time.time()
        assert chip.snapshot() == CLOCK

    def test_one_that_has_passed_sets_nothing_going(self) -> None:
        sequence = sequence_to_write(CLOCK, at=int(time.time()) - 1)
        chip = CounterChip()
        with pytest.raises(NotTaken, match="the instant has passed") as caught:
            sequence.replay(chip, at_due=sequence.sleep_until_due)
        assert "may be stopped" in caught.value.remedy
        assert chip.snapshot() == CLOCK.with_values(halt=True)
        assert not chip.is_open

    def test_without_one_nothing_can_be_slept_for(self) -> None:
        with pytest.raises(BadArgument, match="has no instant"):
            sequence_to_write(CLOCK).sleep_until_due()

    @pytest.mark.parametrize("wrong", [5, "now"])
    def test_what_is_no_function_is_refused_before_any_access(self, wrong: Any) -> None:
        chip = Counting()
        with pytest.raises(BadArgument, match="at_due is no function"):
            sequence_to_write(CLOCK).replay(chip, at_due=wrong)
        assert chip.accesses == 0

    def test_a_coroutine_is_refused_before_any_access(self) -> None:
        async def later() -> None: ...

        chip = Counting()
        with pytest.raises(BadArgument, match="at_due is a coroutine"):
            sequence_to_write(CLOCK).replay(chip, at_due=later)
        assert chip.accesses == 0

    @pytest.mark.parametrize("name", ["read", "write", "wait"])
    def test_a_bus_of_coroutines_is_refused(self, name: str) -> None:
        async def access(*numbers: int) -> None: ...

        chip = Counting()
        setattr(chip, name, access)
        with pytest.raises(BadArgument, match=f"{name} of the bus is a coroutine"):
            sequence_to_read("counter").replay(chip)
        assert chip.accesses == 0


class TestWhatAFailureSays:
    def failing(self, write: int) -> type[CounterChip]:
        class Failing(CounterChip):
            writes = 0

            def write(self, address: int, value: int) -> None:
                self.writes += 1
                if self.writes == write:
                    raise OSError("the line is down")
                super().write(address, value)

        return Failing

    @pytest.mark.parametrize(
        ("write", "note"),
        [
            (1, "the clock was not written yet"),
            (
                15,
                "the clock was changed in part: until it is written again it may be stopped, or wrong",
            ),
        ],
    )
    def test_whether_the_clock_was_changed(self, write: int, note: str) -> None:
        chip = self.failing(write)()
        with pytest.raises(OSError, match="the line is down") as caught:
            sequence_to_write(CLOCK).replay(chip)
        assert caught.value.__notes__ == [note]
        assert chip.snapshot().halt is (write > 1)

    def test_each_closing_access_is_tried(self) -> None:
        class Deaf(CounterChip):
            def write(self, address: int, value: int) -> None:
                if address == 0x4000:
                    raise OSError("that pin is broken")
                super().write(address, value)

        chip = Deaf()
        with pytest.raises(OSError, match="that pin is broken") as caught:
            sequence_to_read("counter").replay(chip)
        assert not chip.is_open
        assert "could not be closed" in caught.value.__notes__[0]

    def test_a_wrong_answer_to_a_reading_does_not_speak_of_writing(self) -> None:
        class Other(MinuteChip):
            def read(self, address: int) -> int | None:
                return 0x8F

        with pytest.raises(NotTaken) as caught:
            sequence_to_read("minutes").replay(Other())
        assert caught.value.what.startswith("the answer is wrong (access ")
        assert "write" not in str(caught.value)

    def test_ff_is_told_as_it_was_read(self) -> None:
        class Floating(CounterChip):
            def read(self, address: int) -> int | None:
                return 0xFF

        with pytest.raises(NotTaken, match="FFh was read") as caught:
            sequence_to_write(CLOCK).replay(Floating())
        assert caught.value.found_value == 0xFF


class TestDoubts:
    def test_a_date_that_is_none(self) -> None:
        sequence = sequence_to_read("calendar")
        answers = dict(sequence.replay(CalendarChip()))
        assert sequence.doubts(answers) == ()
        answers.update({"day_1": 0, "day_1_again": 0})
        (doubt,) = sequence.doubts(answers)
        assert "is no time of day or no date" in doubt

    def test_a_timer_that_is_off(self) -> None:
        chip = CalendarChip(CalendarClock.from_seconds(86_400))
        chip.write(13, 0)
        sequence = sequence_to_read("calendar")
        assert sequence.doubts(sequence.replay(chip)) == (
            "its timer is off: this clock is stopped",
        )

    def test_a_time_that_was_copied_before(self) -> None:
        chip = MinuteChip()
        chip.run(seconds=7_200)
        sequence = sequence_to_read("minutes")
        assert sequence.doubts(sequence.replay(chip)) == ()
        (doubt,) = sequence.doubts(sequence.replay(chip))
        assert "a wrong bit set the clock back to that time" in doubt
        chip.run(seconds=60)
        assert sequence.doubts(sequence.replay(chip)) == ()


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "reed"},
        {"kind": "write"},
        {"kind": "read", "value": 1},
        {"kind": "write", "value": 256},
        {"kind": "write", "value": "7"},
        {"kind": "read", "mask": 0x100},
        {"kind": "read", "address": 0x10000},
        {"kind": "read", "address": -1},
    ],
)
def test_an_access_that_cannot_be(wrong: dict[str, Any]) -> None:
    with pytest.raises(BadArgument):
        Access(**{"address": 0, **wrong})


def test_a_bus_may_name_its_parameters_as_it_likes() -> None:
    class Mine:
        def __init__(self) -> None:
            self.chip = CounterChip(CLOCK)

        def read(self, where: int) -> int | None:
            return self.chip.read(where)

        def write(self, where: int, what: int) -> None:
            self.chip.write(where, what)

        def wait(self, us: int) -> None:
            self.chip.wait(us)

    sequence = sequence_to_read("counter")
    assert sequence.clock(sequence.replay(Mine())) == CLOCK
