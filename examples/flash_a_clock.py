"""A flasher's side: aim a save's clock at "now plus two seconds" and put it on a cartridge.

Here the cartridge is a model chip; with hardware, `Programmer` would drive its pins.

    python examples/flash_a_clock.py examples/saves/healthy.sav
"""

from __future__ import annotations

import sys
import time

import rtcsave
from rtcsave import CounterChip

LEAD_S = 2


class Programmer:
    """What a flasher must offer: reads, writes, and time that passes. Here a model chip."""

    def __init__(self) -> None:
        self.chip = CounterChip()

    def write(self, address: int, value: int) -> None:
        """Write a byte on the cartridge's bus."""
        print(f"write {address:04X}h {value:02X}h")
        self.chip.write(address, value)

    def read(self, address: int) -> int | None:
        """Read a byte from it."""
        value = self.chip.read(address)
        print(
            f"read  {address:04X}h {value:02X}h" if value is not None else f"read  {address:04X}h"
        )
        return value

    def run(self, seconds: float | None = None, *, ticks: int | None = None) -> None:
        """Wait. Hardware would sleep."""
        self.chip.run(seconds, ticks=ticks)


def main() -> int:
    """Write the clock of a save, prove that it was taken, read it back."""
    if len(sys.argv) != 2:
        sys.exit("usage: python flash_a_clock.py SAVE")
    at = int(time.time()) + LEAD_S
    clock = rtcsave.load(sys.argv[1]).advance_to(at).clock_block.running
    sequence = rtcsave.sequence_to_write(clock, at=at)
    print(f"aims at {clock.reading()}, due at Unix second {at}")
    programmer = Programmer()
    # With hardware: sleep until shortly before `at`, do the steps up to sequence.last_write, and
    # that one when `at` comes.
    sequence.replay(programmer)  # raises NotTaken if the cartridge does not hold it
    found = rtcsave.sequence_to_read("counter").replay(programmer)
    print(f"taken: {found}")
    assert programmer.chip.snapshot() == clock
    return 0


if __name__ == "__main__":
    sys.exit(main())
