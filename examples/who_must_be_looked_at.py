"""Print whose clock must be looked at this month, soonest first.

    python examples/who_must_be_looked_at.py examples/saves --days 120

A clock must be looked at before its day counter overflows; one that cannot be trusted, now.
"""

from __future__ import annotations

import argparse
import pathlib
import sys

import rtcsave


def due(path: pathlib.Path, now: int | None) -> tuple[int, str] | None:
    """In how many days a save must be looked at, and why; None for one that needs no look."""
    try:
        found = rtcsave.forecast(rtcsave.load(path), now)
    except rtcsave.NoClock:
        return None
    except rtcsave.RtcSaveError as error:
        return 0, f"cannot be read: {error.what}"
    if found.halted:
        return None
    if found.days_left is None:
        return 0, found.reasons[-1]
    return found.days_left, f"overflows {found.overflow_at:%Y-%m-%d}"


def main() -> int:
    """Print the list."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--days", type=int, default=31, help="how far to look ahead (default: 31)")
    parser.add_argument("--now", type=int, help="Unix seconds (default: now)")
    args = parser.parse_args()
    paths = sorted(args.folder.rglob("*.sav"))
    if not paths:
        parser.error(f"there are no saves (*.sav) in {args.folder}")
    found = [(due(path, args.now), path) for path in paths]
    shown = 0
    for when, path in sorted((look, path) for look, path in found if look is not None):
        if when[0] <= args.days:
            ahead = f"{when[0]:4d}" if when[1].startswith("overflows") else "   ?"
            print(f"{ahead} days  {path.name}: {when[1]}")
            shown += 1
    if not shown:
        print(f"none of the saves ({len(paths)}) must be looked at within {args.days} days")
    return 0


if __name__ == "__main__":
    sys.exit(main())
