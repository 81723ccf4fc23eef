"""An emulator's hooks: resume, autosave, rewind and flush, for each of the three clocks.

`resume` reads a save and brings its clock to the present; `flush` writes memory and clock back. In
between the clock's chip stands on the emulated bus, and `run` lets its time pass. All of it is safe to call
from a thread of its own.

    python examples/emulator_hooks.py [SAVE]        (plays three seconds on a copy)
"""

from __future__ import annotations

import collections
import pathlib
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass, field

import rtcsave
from rtcsave import AnyChip, SaveFile

HERE = pathlib.Path(__file__).parent
FRAMES_PER_S = 60
REWIND_FRAMES = 10 * FRAMES_PER_S


@dataclass
class Cartridge:
    """What is plugged in: the save as it stands on the disk, its memory, its clock, and the last frames."""

    path: pathlib.Path
    save: SaveFile
    memory: bytearray
    chip: AnyChip | None
    frames: collections.deque[tuple[object, bytes]] = field(
        default_factory=lambda: collections.deque(maxlen=REWIND_FRAMES)
    )

    def frame(self) -> None:
        """One frame of the game: its time passes, and it can be gone back to."""
        state = None if self.chip is None else self.chip.state
        self.frames.append((state, bytes(self.memory)))
        if self.chip is not None:
            self.chip.run(1 / FRAMES_PER_S)

    def rewind(self, frames: int) -> None:
        """Go back by so many frames, memory and clock together."""
        for _ in range(min(frames, len(self.frames))):
            state, memory = self.frames.pop()
            self.memory[:] = memory
            if self.chip is not None:
                self.chip.state = state


def resume(path: pathlib.Path, now: float) -> Cartridge:
    """The cartridge of a save, its clock right for now, where that can be known.

    Where the stamp is absent or in the future, nobody knows how long the game was off: the clock then goes
    on from where it was saved, and the player is told. Whoever wrote the save, an emulator or a flasher,
    the stamp means the same.
    """
    save = rtcsave.load(path)
    if save.block is None:
        return Cartridge(path, save, bytearray(save.memory), None)  # a game without a clock
    try:
        save = save.advance_to(now)
    except rtcsave.Refused as error:
        print(f"the clock goes on from where it was saved: {error.what}")
    return Cartridge(path, save, bytearray(save.memory), rtcsave.chip_of(save.clock_block, at=now))


def flush(cartridge: Cartridge, now: float) -> None:
    """Write memory and clock back, stamped now; the newest three backups stay, and the first."""
    save = (
        cartridge.save.with_memory(bytes(cartridge.memory)) if cartridge.memory else cartridge.save
    )
    if cartridge.chip is not None:
        save = save.with_block(cartridge.chip.to_block(now))
    path = cartridge.path
    try:
        written = rtcsave.dump(save, path, keep=3)
    except rtcsave.ChangedUnderneath:
        # another program wrote the file since it was read: keep both, and go on in ours
        path = cartridge.path = path.with_name(f"{path.stem}.conflict{path.suffix}")
        written = rtcsave.dump(save, path, overwrite=True)
        print(f"the file was written by another program; this game is kept in {path.name}")
    cartridge.save = written.save  # what is on the disk now: go on from that


def main() -> int:
    """Play three seconds on a copy of a save: autosave each second, rewind one, flush."""
    if len(sys.argv) > 2:
        sys.exit("usage: python emulator_hooks.py [SAVE]")
    source = pathlib.Path(sys.argv[1]) if len(sys.argv) == 2 else HERE / "saves" / "healthy.sav"
    with tempfile.TemporaryDirectory() as folder:
        try:
            path = pathlib.Path(shutil.copy(source, folder))
            now = time.time()
            cartridge = resume(path, now)
        except (OSError, rtcsave.RtcSaveError) as error:
            sys.exit(f"emulator_hooks: {error}")
        if cartridge.chip is None:
            sys.exit("emulator_hooks: the save has no clock")
        first = cartridge.chip.snapshot()
        print(f"resumed at {first.reading()}")
        for second in range(3):
            for _ in range(FRAMES_PER_S):
                cartridge.frame()
                now += 1 / FRAMES_PER_S
            cartridge.memory[:1] = bytes([second])  # the game writes something
            flush(cartridge, now)
        cartridge.rewind(FRAMES_PER_S)
        now -= 1.0  # the game's time went back; so did its clock
        print(f"rewound to {cartridge.chip.snapshot().reading()}")
        flush(cartridge, now)
        written = rtcsave.load(path)
        print(f"flushed at {written.clock_block.running.reading()}")
        print(f"backups: {len(rtcsave.backups(path))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
