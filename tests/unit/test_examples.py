"""The examples run, and the example saves are what their script writes and what they claim."""

from __future__ import annotations

import hashlib
import pathlib
import subprocess
import sys

import pytest

import rtcsave
from rtcsave import CounterClock, examine
from rtcsave.drift import observations_in

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
SAVES = EXAMPLES / "saves"
NOW = 1_790_856_000  # 2026-10-01T12:00:00Z

CLAIMS = {
    "healthy.sav": [],
    "drifted.sav": [],
    "halted.sav": ["register-halted"],
    "overflowed.sav": ["register-carry"],
    "past-range.sav": ["register-past-range"] * 2 + ["latched-past-range"] * 2,
    "stray-bits.sav": ["register-stray-bits"] * 2,
    "no-stamp.sav": ["stamp-absent"],
    "future-stamp.sav": ["stamp-future"],
    "millisecond-stamp.sav": ["stamp-milliseconds"],
    "big-endian.sav": [],
    "block-of-44.sav": [],
    "no-block.sav": [],
    "cut-short.sav": ["block-cut-short"],
    "blank-memory.sav": ["memory-blank"],
    "all-zero-block.sav": ["stamp-absent"],
    "standalone-block.clock": [],
    "duplicate-block.sav": ["block-doubled"],
    "padded.sav": [],
    "mirrored.sav": ["memory-mirrored"],
    "short.sav": [],
    "block-inside.sav": ["block-inside"],
    "unexpected-block.sav": [],
    "upper-half-stamp.sav": ["stamp-upper-half"],
    "other-order-stamp.sav": ["stamp-byte-order"],
    "microsecond-stamp.sav": ["stamp-other-epoch"],
    "exchanged-registers.sav": ["latched-exchanged"],
    "latched-zero.sav": ["latched-zero"],
    "latched-later.sav": ["latched-later"],
    "line-endings.sav": ["wrapped-line-endings"],
    "packed.sav.gz": ["wrapped-compressed"],
    "packed.sav.zip": ["wrapped-compressed"],
}
WITH_HEADER = {
    "padded.sav": ("with-clock", ["memory-padded"]),
    "mirrored.sav": ("with-clock", []),  # here the header promises just those 8 KiB
    "short.sav": ("with-clock", ["memory-short"]),
    "unexpected-block.sav": ("without-clock", ["block-unexpected", "memory-short"]),
    "no-block.sav": ("with-clock", ["block-missing", "memory-short"]),
}


@pytest.mark.parametrize("name", WITH_HEADER)
def test_a_save_against_its_program(name: str) -> None:
    program, codes = WITH_HEADER[name]
    header = rtcsave.read_header((SAVES / f"{program}.program").read_bytes())
    seen = examine((SAVES / name).read_bytes(), header=header, now=NOW)
    assert [finding.code for finding in seen.findings] == codes


def test_a_described_layout() -> None:
    layout = rtcsave.read_layout(SAVES / "workshop.toml")
    for also in ((layout,), ()):
        examined = examine((SAVES / "workshop.sav").read_bytes(), also_layouts=also, now=NOW)
        assert (examined.save is not None) == bool(also)
    save = rtcsave.load(SAVES / "workshop.sav", also_layouts=[layout])
    assert save.clock_block.running.reading() == "212d13:40:07"
    assert save.clock_block.saved_unix_s == 1_773_152_100
    assert rtcsave.check(save, now=NOW) == ()
    seen = examine((SAVES / "workshop-damaged.sav").read_bytes(), layout, now=NOW)
    assert [finding.code for finding in seen.findings] == ["block-constant", "block-checksum"]


@pytest.mark.parametrize("name", CLAIMS)
def test_a_save_is_what_its_name_says(name: str) -> None:
    seen = examine((SAVES / name).read_bytes(), now=NOW)
    assert [finding.code for finding in seen.findings] == CLAIMS[name]


def test_every_save_is_claimed() -> None:
    names = {
        path.name for path in SAVES.iterdir() if path.suffix in (".sav", ".clock", ".gz", ".zip")
    }
    assert names == {*CLAIMS, "workshop.sav", "workshop-damaged.sav"}


def run(*words: object, cwd: pathlib.Path | None = None) -> str:
    done = subprocess.run(
        [sys.executable, *map(str, words)],
        capture_output=True,
        encoding="utf-8",
        check=True,
        cwd=cwd,
    )
    return done.stdout


def fails(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *map(str, words)], capture_output=True, encoding="utf-8", check=False
    )


def test_the_script_writes_the_saves_without_the_package(tmp_path: pathlib.Path) -> None:
    script = tmp_path / "make_saves.py"
    text = (SAVES / "make_saves.py").read_text(encoding="utf-8")
    assert "rtcsave" not in text
    script.write_text(text, encoding="utf-8")
    run(script)
    made = [path for path in tmp_path.iterdir() if path != script]
    assert {*CLAIMS, "with-clock.program"} <= {path.name for path in made}
    for path in made:
        assert path.read_bytes() == (SAVES / path.name).read_bytes(), path.name


def test_read_a_clock() -> None:
    assert "212d13:40:07 when it was saved, at 2026-03-10 14:15:00+00:00" in run(
        EXAMPLES / "read_a_clock.py", SAVES / "healthy.sav"
    )


def test_emulator_hooks() -> None:
    resumed, rewound, flushed, backups = run(EXAMPLES / "emulator_hooks.py").splitlines()
    start = CounterClock.from_reading(resumed.removeprefix("resumed at "))
    shown = start.advance(2).reading()
    assert rewound == f"rewound to {shown}"
    assert flushed == f"flushed at {shown}"
    assert backups == "backups: 4"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("no-stamp.sav", "the clock goes on from where it was saved: the stamp is absent"),
        ("future-stamp.sav", "the clock goes on from where it was saved: the stamp is later"),
    ],
)
def test_emulator_hooks_where_nothing_says_how_long_it_was_off(name: str, said: str) -> None:
    first, resumed, *_ = run(EXAMPLES / "emulator_hooks.py", SAVES / name).splitlines()
    assert first.startswith(said)
    clock = rtcsave.load(SAVES / name, now=NOW).clock_block.running
    assert resumed == f"resumed at {clock.reading()}"


def test_a_conflict_keeps_both(tmp_path: pathlib.Path) -> None:
    code = (
        "import sys, time, pathlib; sys.path.insert(0, sys.argv[1])\n"
        "import emulator_hooks as hooks\n"
        "path = pathlib.Path(sys.argv[2]); now = time.time()\n"
        "cartridge = hooks.resume(path, now)\n"
        "theirs = path.read_bytes().replace(b'LANTERN', b'HARROWS'); path.write_bytes(theirs)\n"
        "cartridge.memory[:7] = b'QUAYING'; hooks.flush(cartridge, now + 5)\n"
        "cartridge.frame(); hooks.flush(cartridge, now + 6)\n"
    )
    path = tmp_path / "game.sav"
    path.write_bytes((SAVES / "healthy.sav").read_bytes())
    out = run("-c", code, EXAMPLES, path)
    assert "is kept in game.conflict.sav" in out
    assert path.read_bytes().startswith(b"HARROWS")
    assert (tmp_path / "game.conflict.sav").read_bytes().startswith(b"QUAYING")


def test_headless_loop() -> None:
    took, right, sees = run(EXAMPLES / "headless_loop.py").splitlines()
    assert took.startswith("a day in ")
    assert right == "from 417d11:25:07 to 418d11:25:07: right to the second"
    assert sees == "the game sees 11:25:07"


def test_wrong_clock() -> None:
    done = fails(EXAMPLES / "wrong_clock.py")
    assert done.returncode == 1
    head, *failures = done.stdout.splitlines()
    assert head == "counter: 29 passed, 3 failed, 0 left out"
    assert [line.split(":")[0] for line in failures] == [
        "FAIL latch-needs-00-then-01",
        "FAIL overflow-sets-carry",
        "FAIL writing-minutes-keeps-the-fraction",
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
@pytest.mark.parametrize("fault", ["none", "drop", "late"])
def test_serial_flasher(fault: str) -> None:
    out = run(EXAMPLES / "serial_flasher.py", SAVES / "healthy.sav", "--fault", fault)
    written, read_back, again = out.splitlines()
    assert written.startswith("written: ")
    assert read_back.startswith("read back: ")
    assert (again == "sent again: 0") == (fault == "none")


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
def test_a_device_that_vanishes_is_named() -> None:
    done = fails(EXAMPLES / "serial_flasher.py", SAVES / "healthy.sav", "--fault", "vanish")
    assert done.returncode == 1
    assert "the device does not answer" in done.stderr
    assert "the cartridge could not be closed" in done.stderr


@pytest.mark.parametrize(
    "script", ["emulator_hooks.py", "headless_loop.py", "serial_flasher.py", "embedded_block.py"]
)
@pytest.mark.parametrize("name", ["missing.sav", "no-block.sav"])
def test_bad_input_gives_a_message(script: str, name: str) -> None:
    done = fails(EXAMPLES / script, SAVES / name)
    assert done.returncode == 1
    assert done.stderr.startswith(script.removesuffix(".py") + ": ")
    assert "Traceback" not in done.stderr
    assert fails(EXAMPLES / script, "a", "b", "c").returncode in (1, 2)


def test_repair_folder_leaves_the_originals() -> None:
    before = {
        path.name: hashlib.sha256(path.read_bytes()).digest()
        for path in SAVES.iterdir()
        if path.is_file()
    }
    out = run(EXAMPLES / "repair_folder.py", SAVES)
    after = {
        path.name: hashlib.sha256(path.read_bytes()).digest()
        for path in SAVES.iterdir()
        if path.is_file()
    }
    assert before == after
    assert "cut-short.sav: left as it is" in out
    assert "millisecond-stamp.sav: stamp-milliseconds; advanced to" in out


def test_repair_folder_in_place(tmp_path: pathlib.Path) -> None:
    for path in SAVES.glob("*.sav"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    run(EXAMPLES / "repair_folder.py", tmp_path, "--in-place")
    repaired = (tmp_path / "millisecond-stamp.sav").read_bytes()
    assert repaired != (SAVES / "millisecond-stamp.sav").read_bytes()
    assert "stamp-milliseconds" not in [
        finding.code for finding in rtcsave.check(rtcsave.loads(repaired), now=NOW)
    ]
    assert len(list(tmp_path.glob("*.bak"))) > 5
    for path in SAVES.glob("*.sav"):
        copy = tmp_path / path.name
        memory_bytes = len(path.read_bytes()) // 256 * 256
        assert copy.read_bytes()[:memory_bytes] == path.read_bytes()[:memory_bytes]
        for backup in rtcsave.backups(copy):
            assert pathlib.Path(backup.path).read_bytes() == path.read_bytes()


def test_the_drift_log_is_what_its_script_writes_and_tells_its_rate(tmp_path: pathlib.Path) -> None:
    script = tmp_path / "make_drift_log.py"
    script.write_bytes((EXAMPLES / "make_drift_log.py").read_bytes())
    run(script)
    log = (EXAMPLES / "drift-log.csv").read_bytes()
    assert (tmp_path / "drift-log.csv").read_bytes() == log
    estimate = rtcsave.fit_drift(observations_in(log.decode("utf-8")))
    assert estimate.doubts == ("the clock was set between two observations",)
    assert estimate.low_ppm < 14.6 < estimate.high_ppm  # type: ignore[operator]
    assert estimate.bound_ppm < 0.5  # type: ignore[operator]
    assert len(estimate.segments) == 2


def test_who_must_be_looked_at() -> None:
    out = run(EXAMPLES / "who_must_be_looked_at.py", SAVES, "--days", "120", "--now", str(NOW))
    assert "94 days  healthy.sav: overflows 2027-01-04" in out
    assert "? days  no-stamp.sav: no usable stamp" in out
    assert "halted.sav" not in out
    assert "overflowed.sav" not in out


@pytest.mark.parametrize(
    "script",
    [
        "read_a_clock.py", "who_must_be_looked_at.py", "repair_folder.py", "embedded_block.py",
        "headless_loop.py",
    ],
)  # fmt: skip
def test_a_wrong_name_is_answered_with_a_message(script: str, tmp_path: pathlib.Path) -> None:
    words = [sys.executable, str(EXAMPLES / script), str(tmp_path / "nosuch")]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "Traceback" not in done.stderr
    assert "nosuch" in done.stderr


def test_a_nested_folder_is_no_false_all_clear(tmp_path: pathlib.Path) -> None:
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / "a" / "b" / "cut.sav").write_bytes((SAVES / "cut-short.sav").read_bytes())
    words = [sys.executable, str(EXAMPLES / "who_must_be_looked_at.py"), str(tmp_path)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert "cut.sav: cannot be read" in done.stdout
    (tmp_path / "a" / "b" / "cut.sav").write_bytes((SAVES / "healthy.sav").read_bytes())
    done = subprocess.run(
        [*words, "--now", "1773200000"], capture_output=True, text=True, check=True
    )
    assert done.stdout == "none of the saves (1) must be looked at within 31 days\n"
