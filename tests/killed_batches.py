"""A batch that is killed at random instants and run again until it is done, then taken back. By hand:

    python tests/killed_batches.py --rounds 200 --seed 3

Each round makes a shelf of damaged saves, starts the command, kills it after a random time, looks at every
file, and starts it again. `tests/faults/test_batches.py` runs a few rounds.
"""

from __future__ import annotations

import argparse
import hashlib
import pathlib
import random
import subprocess
import sys
import tempfile
import time

from rtcsave.strategies import DAMAGES, NOW

ROOT = pathlib.Path(__file__).parents[1]
COMMAND = [sys.executable, "-m", "rtcsave"]
FILES = 40


def shelf(folder: pathlib.Path, seed: int) -> dict[pathlib.Path, bytes]:
    """Saves that the default plan repairs, and what they hold."""
    from rtcsave import ClockBlock, CounterClock

    chance = random.Random(seed)
    contents = {}
    for at in range(FILES):
        clock = CounterClock.from_seconds(chance.randrange(100, 10**7))
        block = ClockBlock.new(clock, saved_at=NOW - 10**6, latched=clock)
        code = chance.choice(("register-past-range", "register-stray-bits", "stamp-milliseconds"))
        data = DAMAGES[code](chance.randbytes(2_048), block, chance.randrange(256), NOW)
        path = folder / f"{at:03}.sav"
        path.write_bytes(data)
        contents[path] = data
    return contents


def run_killed(
    words: list[str], after_files: int, begun: pathlib.Path, chance: random.Random
) -> bool:
    """Start a command and kill it when it has begun so many files and a random while more; whether it had
    ended by itself."""
    child = subprocess.Popen(
        [*COMMAND, *words], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    while child.poll() is None and len(list(begun.parent.glob("*.bak"))) < after_files:
        time.sleep(0.001)
    time.sleep(chance.uniform(0, 0.01))
    ended = child.poll() is not None
    child.kill()
    child.wait()
    return ended


def one_round(folder: pathlib.Path, seed: int) -> tuple[int, list[str]]:
    """One shelf: how often the commands were killed, and what was lost."""
    chance = random.Random(seed)
    old = shelf(folder, seed)
    plan, journal = folder / "plan.jsonl", folder / "plan.journal.jsonl"
    make = [*COMMAND, "repair", str(folder), "--plan", str(plan), "--now", f"@{NOW}"]
    subprocess.run(make, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    problems: list[str] = []
    kills = 0
    new: dict[pathlib.Path, bytes] = {}
    for words in (["repair", "--apply", str(plan)], ["restore", "--journal", str(journal)]):
        for _ in range(2):
            stand = len(list(folder.glob("*.bak")))
            kills += not run_killed(words, stand + chance.randrange(FILES // 3), plan, chance)
            problems += _lost(old, new)
        done = subprocess.run([*COMMAND, *words], cwd=ROOT, capture_output=True, text=True)
        if done.returncode:
            problems.append(f"{words[0]} ended with {done.returncode}: {done.stderr[:200]}")
        if words[0] == "repair":
            new = {path: path.read_bytes() for path in old}
            problems += [f"{path} was not repaired" for path in old if new[path] == old[path]]
    problems += [f"{path} was not taken back" for path in old if path.read_bytes() != old[path]]
    return kills, problems + _left_over(folder, kills)


def _left_over(folder: pathlib.Path, kills: int) -> list[str]:
    """What is left beside the files that no kill explains: each write has one new file on its way, and
    one second name of the old file until the new one has its place."""
    left = [path.name for path in folder.iterdir() if path.name.endswith(".tmp")]
    second_names = [name for name in left if name.endswith(".old.tmp")]
    if max(len(second_names), len(left) - len(second_names)) <= kills:
        return []
    return [f"more left over than {kills} kills explain: {left}"]


def _lost(old: dict[pathlib.Path, bytes], new: dict[pathlib.Path, bytes]) -> list[str]:
    """Files that are neither old nor new, or changed without a backup of what they were."""
    problems = []
    for path, before in old.items():
        now = path.read_bytes()
        if now == before:
            continue
        if new and now != new[path]:
            problems.append(f"{path} is neither old nor new")
        backups = {
            hashlib.sha256(backup.read_bytes()).digest()
            for backup in path.parent.glob(f"{path.name}.*.bak")
        }
        if hashlib.sha256(before).digest() not in backups:
            problems.append(f"{path} was changed without a backup")
    return problems


def main() -> int:
    """Run the rounds, and print what was seen."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=50)
    parser.add_argument("--seed", type=int, default=3)
    args = parser.parse_args()
    kills, problems = 0, []
    for number in range(args.rounds):
        with tempfile.TemporaryDirectory() as folder:
            killed, problems_found = one_round(pathlib.Path(folder), args.seed + number)
        kills += killed
        problems += problems_found
    print(f"{args.rounds} rounds of {FILES} files, {kills} kills, {len(problems)} losses")
    print(*problems[:20], sep="\n")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
