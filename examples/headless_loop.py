"""A headless emulator loop: a day of emulated time in under a second, and the clock right to the second.

The loop plays frames, fast-forwards, pauses, and stops and resumes from the save it wrote. At the end it
compares the clock with what it must show.

    python examples/headless_loop.py [SAVE]        (reads the save; writes nothing)
"""

from __future__ import annotations

import pathlib
import sys
import time

import rtcsave
from rtcsave import CounterChip, SaveFile

HERE = pathlib.Path(__file__).parent
DAY_S = 86_400
HOUR_S = 3_600
FRAME_TICKS = 546  # of 32,768 a second: a frame is no whole number of ticks, so the rest is owed
FRAMES_PER_S = 60


class Cartridge:
    """The bus of one cartridge: memory where the chip says so, the chip for the rest."""

    def __init__(self, save: SaveFile, now: float) -> None:
        self.memory = bytearray(save.memory) or bytearray(0x2000)
        self.chip = CounterChip.from_block(save.clock_block, at=now)

    def read(self, address: int) -> int:
        """What the processor reads."""
        value = self.chip.read(address)
        if value is not None:
            return value
        bank = self.chip.memory_bank or 0
        return self.memory[(bank * 0x2000 + address - 0xA000) % len(self.memory)]

    def write(self, address: int, value: int) -> None:
        """What the processor writes."""
        self.chip.write(address, value)
        bank = self.chip.memory_bank
        if bank is not None and 0xA000 <= address < 0xC000:
            self.memory[(bank * 0x2000 + address - 0xA000) % len(self.memory)] = value

    def shown(self) -> str:
        """The time of day as a game reads it: open, latch, look, close."""
        self.write(0x0000, 0x0A)
        self.write(0x6000, 0x00)
        self.write(0x6000, 0x01)
        parts = []
        for register in (0x0A, 0x09, 0x08):
            self.write(0x4000, register)
            parts.append(self.read(0xA000))
        self.write(0x4000, 0x00)
        self.write(0x0000, 0x00)
        return "{:02d}:{:02d}:{:02d}".format(*parts)


def main() -> int:
    """Run a day, and prove that the clock counted it."""
    if len(sys.argv) > 2:
        sys.exit("usage: python headless_loop.py [SAVE]")
    source = sys.argv[1] if len(sys.argv) == 2 else str(HERE / "saves" / "healthy.sav")
    now = 1_790_856_000.25  # where the emulated world begins
    try:
        save = rtcsave.load(source).advance_to(now)
        cartridge = Cartridge(save, now)
    except rtcsave.RtcSaveError as error:
        sys.exit(f"headless_loop: {error}")
    first = cartridge.chip.snapshot()
    started = time.perf_counter()

    for second in range(2 * HOUR_S):  # play two hours, frame by frame
        for frame in range(FRAMES_PER_S):
            done, due = (32_768 * n // FRAMES_PER_S for n in (frame, frame + 1))
            cartridge.chip.run(ticks=due - done)
        if second % HOUR_S == 0:
            cartridge.shown()  # the game looks at its clock
    now += 2 * HOUR_S
    for _ in range(10 * HOUR_S):  # fast-forward ten hours, a second at a time
        cartridge.chip.run(1)
    now += 10 * HOUR_S
    now += 4 * HOUR_S  # the emulator is paused for four hours: catch up when it goes on
    cartridge.chip.run(4 * HOUR_S)
    save = save.with_block(cartridge.chip.to_block(now))  # stop, and resume an hour later
    now += HOUR_S
    save = save.advance_to(now)
    cartridge = Cartridge(save, now)
    cartridge.chip.run(7 * HOUR_S)  # skip the night in one step
    now += 7 * HOUR_S

    took_s = time.perf_counter() - started
    expected = first.advance(DAY_S)
    if cartridge.chip.snapshot() != expected:
        sys.exit(f"the clock shows {cartridge.chip.snapshot()}, and should show {expected}")
    if cartridge.chip.fraction_s != 0.25:
        sys.exit(f"{cartridge.chip.fraction_s} s of a second passed, and not 0.25")
    print(f"a day in {took_s:.2f} s")
    print(f"from {first.reading()} to {expected.reading()}: right to the second")
    print(f"the game sees {cartridge.shown()}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
