"""A tiny emulator loop with the clock's chip on its bus: boot with a save, run, write it back.

python examples/tiny_emulator.py        (on a copy of an example save)
"""

from __future__ import annotations

import pathlib
import shutil
import sys
import tempfile
import time

import rtcsave
from rtcsave import CounterChip, SaveFile

HERE = pathlib.Path(__file__).parent
FRAMES_PER_S = 60
TICKS_PER_S = 32_768


class Cartridge:
    """The bus of one cartridge: memory where the chip says so, the chip for the rest."""

    def __init__(self, save: SaveFile) -> None:
        self.memory = bytearray(save.memory)
        self.chip = CounterChip.from_block(save.clock_block)

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


def main() -> int:
    """Boot, let a game look at its clock and its memory for two seconds, write everything back."""
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(shutil.copy(HERE / "saves" / "healthy.sav", folder))
        now = int(time.time())
        save = rtcsave.load(path).advance_to(now)
        cartridge = Cartridge(save)
        cartridge.write(0x0000, 0x0A)  # the game opens the cartridge
        for frame in range(2 * FRAMES_PER_S):  # a frame is no whole number of ticks: lose none
            before, after = (TICKS_PER_S * n // FRAMES_PER_S for n in (frame, frame + 1))
            cartridge.chip.run(ticks=after - before)
        for value in (0x00, 0x01):
            cartridge.write(0x6000, value)  # it latches the time
        shown = []
        for register in (0x0A, 0x09, 0x08):
            cartridge.write(0x4000, register)
            shown.append(cartridge.read(0xA000))
        cartridge.write(0x4000, 0x00)
        cartridge.write(0xA000, shown[2])  # and keeps the seconds in its memory
        print("the game saw {:02d}:{:02d}:{:02d}".format(*shown))
        block = cartridge.chip.to_block(now + 2)
        played = SaveFile(memory=bytes(cartridge.memory), block=block, origin=save.origin)
        rtcsave.dump(played, path)
        print(f"saved {rtcsave.load(path).clock_block.running.reading()}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
