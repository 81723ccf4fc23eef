"""Write the drift log of the lending library of Harrow Quay, invented and seeded.

Copy 3 of LANTERN VALE was dumped about every three weeks for two years. Its crystal runs 14.6 ppm
fast; in the second spring somebody set the clock forward by 40 minutes and said so to nobody.

    python examples/make_drift_log.py            (writes examples/drift-log.csv)
"""

from __future__ import annotations

import pathlib
import random
import sys
from datetime import datetime, timedelta, timezone

HERE = pathlib.Path(__file__).parent
RATE = 14.6e-6
START = datetime(2024, 3, 4, 10, 0, tzinfo=timezone.utc)
SET_FORWARD = datetime(2025, 4, 12, 16, 20, tzinfo=timezone.utc)


def lines() -> list[str]:
    """The lines of the log: an instant, what the clock read then, who dumped it."""
    chance = random.Random(1926)
    found = ["instant,reading,dumped by"]
    at = START
    origin_s = 37 * 86_400 + 5_400
    while at < START + timedelta(days=730):
        passed = (at - START).total_seconds()
        reading = int(origin_s + passed * (1 + RATE) + (2_400 if at > SET_FORWARD else 0))
        day, rest = divmod(reading % 44_236_800, 86_400)
        hour, rest = divmod(rest, 3_600)
        minute, second = divmod(rest, 60)
        who = chance.choice(("Ines", "Tobias", "the Thursday volunteers"))
        found.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{day}d{hour:02d}:{minute:02d}:{second:02d},{who}")
        at += timedelta(days=chance.randint(17, 25), seconds=chance.randint(0, 20_000))
    return found


def main() -> int:
    """Write the log beside this script."""
    (HERE / "drift-log.csv").write_text("\n".join(lines()) + "\n", encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
