"""Repair every save of a folder, at any depth: what is certain; then advance the clock to now. Keep backups.

    python examples/repair_folder.py examples/saves              (works on a copy, and says so)
    python examples/repair_folder.py my-saves --in-place

A file that is no save, or whose clock nobody can know, is left as it is, with the reason.
"""

from __future__ import annotations

import argparse
import pathlib
import shutil
import sys
import tempfile
import time

import rtcsave


def repair(path: pathlib.Path) -> str:
    """Repair one file; what was done, in a sentence."""
    data, origin = rtcsave.read(path)
    plan = rtcsave.plan_repair(rtcsave.examine(data, origin=origin))
    save = plan.apply()
    done = [step.code for step in plan.steps]
    if save.block is not None:
        try:
            save = save.advance_to(int(time.time()))
            done.append(f"advanced to {save.clock_block.running.reading()}")
        except rtcsave.StampUnusable as error:
            done.append(f"not advanced: {error.what}")
    if rtcsave.dumps(save) != data:
        rtcsave.dump(save, path)
    return "; ".join(done) or "a memory image alone: nothing to do"


def repair_all(folder: pathlib.Path) -> int:
    """Repair every file of a folder; how many could not be."""
    failed = 0
    for path in sorted(folder.rglob("*.sav")):
        try:
            print(f"{path.name}: {repair(path)}")
        except rtcsave.RtcSaveError as error:
            failed += 1
            print(f"{path.name}: left as it is: {error.what}")
    return failed


def main() -> int:
    """Repair the folder that was named, or a copy of it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--in-place", action="store_true", help="not on a copy")
    args = parser.parse_args()
    if not any(args.folder.rglob("*.sav")):
        parser.error(f"there are no saves (*.sav) in {args.folder}")
    if args.in_place:
        repair_all(args.folder)
        return 0
    with tempfile.TemporaryDirectory() as temporary:
        copy = pathlib.Path(shutil.copytree(args.folder, pathlib.Path(temporary) / "copy"))
        repair_all(copy)
    print("(on a copy: add --in-place to repair the folder itself)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
