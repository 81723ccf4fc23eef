"""Ratios that say whether the library is quick, all measured in one run. Run by hand:

    python tests/bench/bench.py

Each ratio compares two things measured in turn, round by round, and is the median of the rounds'
ratios: machines are noisy, and differ.
"""

from __future__ import annotations

import os
import pathlib
import random
import statistics
import struct
import subprocess
import sys
import tempfile
import time
import timeit
from collections.abc import Callable

import construct

import rtcsave

NOW = 1_790_856_000
ROOT = pathlib.Path(__file__).parents[2]
SAVE = ROOT / "examples" / "saves" / "healthy.sav"
BLOCK = (ROOT / "examples" / "saves" / "standalone-block.clock").read_bytes()


Call = Callable[[], object]


def ratio(ours: Call, theirs: Call, number: int) -> tuple[float, float]:
    """The median of the rounds' ratios, and the median time of one call of ours in µs."""
    ratios, times = [], []
    for _ in range(15):
        a = timeit.timeit(ours, number=number)
        b = timeit.timeit(theirs, number=number)
        ratios.append(a / b)
        times.append(a / number * 1e6)
    return statistics.median(ratios), statistics.median(times)


def process_ratio(ours: list[str], theirs: list[str]) -> tuple[float, float]:
    """The same for whole processes; the time is in ms.

    Compiled modules are kept, as an installed package keeps them, and a first run is not counted.
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    ratios, times = [], []
    subprocess.run(ours, check=True, stdout=subprocess.DEVNULL, cwd=ROOT, env=environment)
    for _ in range(21):
        spent = []
        for words in (ours, theirs):
            start = time.perf_counter()
            subprocess.run(words, check=True, stdout=subprocess.DEVNULL, cwd=ROOT, env=environment)
            spent.append(time.perf_counter() - start)
        ratios.append(spent[0] / spent[1])
        times.append(spent[0] * 1e3)
    return statistics.median(ratios), statistics.median(times)


def main() -> int:
    """Print every ratio with what it should be."""
    words = [f"word{number}" / construct.Int32ul for number in range(10)]
    compiled = construct.Struct(
        *words, "stamp" / construct.Int64sl
    ).compile()  # as a user writes it
    raw_struct = struct.Struct("<10Iq")
    loads = rtcsave.loads
    clock = loads(BLOCK).clock_block.running
    save = rtcsave.load(SAVE)

    rows: list[tuple[str, float, str, str]] = []

    def row(what: str, timing: tuple[float, float], aim: str, unit: str = "µs") -> None:
        rows.append((what, timing[0], aim, f"{timing[1]:.2f} {unit}"))

    row(
        "loads and running clock / construct's compiled parser",
        ratio(lambda: loads(BLOCK).clock_block.running, lambda: compiled.parse(BLOCK), 20_000),
        "at most 0.65",
    )
    row(
        "loads and running clock / struct.unpack_from",
        ratio(
            lambda: loads(BLOCK).clock_block.running, lambda: raw_struct.unpack_from(BLOCK), 20_000
        ),
        "",
    )
    row(
        "advance(10**15) / advance(1)",
        ratio(lambda: clock.advance(10**15), lambda: clock.advance(1), 20_000),
        "at most 1.5",
    )
    chance = random.Random(7)
    for size in (2_048, 32_768, 131_072):
        large = save.with_memory(chance.randbytes(size))
        data = rtcsave.dumps(large)
        row(
            f"check of a healthy save of {size:,} bytes / loads of it",
            ratio(
                lambda large=large: rtcsave.check(large, now=NOW),
                lambda data=data: loads(data),
                5_000,
            ),
            "at most 1.5",
        )
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "game.sav"
        path.write_bytes(chance.randbytes(32_768) + BLOCK)
        name = str(path)

        def plain() -> bytes:
            with open(name, "rb") as stream:
                return stream.read()

        row(
            "load of 32 KiB / a plain read",
            ratio(lambda: rtcsave.load(name), plain, 2_000),
            "at most 4",
        )
    chip = rtcsave.CounterChip(clock)
    chip.write(0x0000, 0x0A)
    chip.write(0x4000, 0x08)

    class Empty:
        def call(self, address: int, value: int) -> None:
            return None

    call = Empty().call
    for what, timed_call in (
        ("read", lambda: chip.read(0xA000)),
        ("write", lambda: chip.write(0xA000, 7)),
        ("run(ticks=546)", lambda: chip.run(ticks=546)),
    ):
        row(
            f"chip.{what} / an empty method call",
            ratio(timed_call, lambda: call(0xA000, 7), 20_000),
            "",
        )
    second = timeit.timeit  # parts of a second of real time that 60 frames take, in percent
    for kind in (rtcsave.CounterChip, rtcsave.MinuteChip, rtcsave.CalendarChip):
        played = kind()
        for what, frame, aim in (
            ("60 states", lambda played=played: played.state, "at most 0.05"),
            ("60 frames", lambda played=played: played.run(1 / 60), "at most 0.01"),
        ):
            each_s = min(second(frame, number=6_000) / 6_000 for _ in range(7))
            row(f"{kind.__name__}: {what} / a second, in %", (each_s * 6_000, each_s * 1e6), aim)
    nothing = [sys.executable, "-c", "pass"]
    row(
        "import rtcsave / python -c pass",
        process_ratio([sys.executable, "-c", "import rtcsave"], nothing),
        "at most 1.5",
        "ms",
    )
    script = pathlib.Path(sys.executable).with_name("rtcsave")
    command = [str(script)] if script.exists() else [sys.executable, "-m", "rtcsave"]
    row(
        "rtcsave show FILE --json / python -c pass",
        process_ratio([*command, "show", str(SAVE), "--json"], nothing),
        "at most 5",
        "ms",
    )
    row(
        "rtcsave --help / python -c pass",
        process_ratio([*command, "--help"], nothing),
        "at most 2",
        "ms",
    )
    width = max(len(cells[0]) for cells in rows)
    for what, ratio_found, aim, each in rows:
        print(f"{what:<{width}}  {ratio_found:7.3f}  {aim:<12} {each} each")
    return 0


if __name__ == "__main__":
    sys.exit(main())
