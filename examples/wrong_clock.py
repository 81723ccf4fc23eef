"""A deliberately wrong clock, and the report that names its faults with their sources.

The clock is somebody's first try: a dozen lines that look right. It forgets the carry bit, begins a
new second when the minutes are written, and latches on 00h instead of on the 01h after it.

    python examples/wrong_clock.py        (exit code 1: it is wrong)
"""

from __future__ import annotations

import sys

from rtcsave import conformance

MASKS = (0x3F, 0x3F, 0x1F, 0xFF, 0xC1)


class FirstTry:
    """Reads, writes, and time that passes: all that a check asks of a clock."""

    def __init__(self) -> None:
        self.registers = [0] * 5
        self.latched = [0] * 5
        self.opened, self.selected, self.passed_us = False, 0, 0

    def wait(self, microseconds: int) -> None:
        """Let time pass, a second at a time."""
        if not self.registers[4] & 0x40:
            self.passed_us += microseconds
            while self.passed_us >= 1_000_000:
                self.passed_us -= 1_000_000
                self.tick()

    def tick(self) -> None:
        """Count a second."""
        for at, (end, width) in enumerate(((60, 64), (60, 64), (24, 32))):
            self.registers[at] = (self.registers[at] + 1) % width
            if self.registers[at] != end:
                return
            self.registers[at] = 0
        day = self.registers[3] + 256 * (self.registers[4] & 1) + 1
        self.registers[3] = day & 0xFF
        self.registers[4] = self.registers[4] & 0xC0 | day >> 8 & 1  # and the carry bit?

    def write(self, address: int, value: int) -> None:
        """A write on the bus."""
        if address < 0x2000:
            self.opened = value == 0x0A
        elif 0x4000 <= address < 0x6000:
            self.selected = value
        elif 0x6000 <= address < 0x8000 and value == 0:  # too early
            self.latched = list(self.registers)
        elif 0xA000 <= address < 0xC000 and self.opened and 8 <= self.selected <= 12:
            self.registers[self.selected - 8] = value & MASKS[self.selected - 8]
            if self.selected in (8, 9):  # 9 are the minutes
                self.passed_us = 0

    def read(self, address: int) -> int | None:
        """A read on the bus."""
        if not self.opened or not 8 <= self.selected <= 12:
            return 0xFF
        return self.latched[self.selected - 8]


def main() -> int:
    """Try every check on the clock."""
    if len(sys.argv) != 1:
        sys.exit("usage: python wrong_clock.py")
    report = conformance.run("counter", FirstTry)
    print(report)
    return 0 if report.ok else 1


if __name__ == "__main__":
    sys.exit(main())
