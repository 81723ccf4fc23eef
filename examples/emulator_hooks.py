"""An emulator's two hooks: the clock is right after a pause, and the save is right after a flush.

While a game runs, its clock is the emulator's own; here it is a `CounterClock` that the emulator
advances. `resume` reads the save and advances the clock by the time the console was off; `flush`
writes memory and clock back. Nothing else of the package is loaded.

    python examples/emulator_hooks.py        (plays a few seconds on a copy of an example save)
"""

from __future__ import annotations

import pathlib
import shutil
import sys
import tempfile
import time

import rtcsave
from rtcsave import Clock, SaveFile

HERE = pathlib.Path(__file__).parent


def resume(path: pathlib.Path, now: int) -> SaveFile:
    """The save as it is to be played on: its clock advanced to now, if its stamp allows."""
    save = rtcsave.load(path)
    try:
        return save.advance_to(now)
    except rtcsave.NoClock:
        return save  # a game without a clock
    except rtcsave.StampUnusable as error:
        print(f"the clock stands where it was saved: {error}")
        return save


def flush(save: SaveFile, memory: bytes, clock: Clock, now: int) -> SaveFile:
    """Write memory and clock back to where the save was read, stamped now, with a backup."""
    assert save.origin is not None
    played = save.with_memory(memory).with_clock(clock).with_stamp(now)
    written = rtcsave.dump(played, save.origin.path)
    assert written.save is not None
    return written.save  # what is on the disk now: ready for the next flush


def main() -> int:
    """Resume a copy of an example save, play for three seconds, flush."""
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(shutil.copy(HERE / "saves" / "healthy.sav", folder))
        now = int(time.time())
        save = resume(path, now)
        clock = save.clock_block.running
        print(f"resumed at {clock.reading()}")
        for _ in range(3):
            clock = clock.advance(1)  # the emulator's own second has passed
        memory = b"PLAYED" + save.memory[6:]
        saved = flush(save, memory, clock, now + 3)
        print(f"flushed at {saved.clock_block.running.reading()}")
        print(f"beside it: {', '.join(sorted(p.name for p in path.parent.iterdir()))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
