"""`sequence`, `--program`, and the other clocks on the command line."""

from __future__ import annotations

import csv
import io
import json
import pathlib
import re
import shutil
import subprocess
from collections.abc import Callable

import pytest
from known import CALENDAR26, HEALTHY48, MINUTES12, memory

from rtcsave import CounterChip, CounterClock, load
from rtcsave.cli.main import main

NOW = "2026-03-11T14:15:00Z"
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def game(tmp_path: pathlib.Path) -> pathlib.Path:
    path = tmp_path / "game.sav"
    path.write_bytes(memory() + HEALTHY48)
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(command: str, *words: object) -> tuple[int, str, str]:
        code = main([command, "--now", NOW, *map(str, words)])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


def test_a_table_aimed_at_an_instant(run: Run, game: pathlib.Path) -> None:
    code, out, _ = run("sequence", game, "--at", "2026-03-11T14:15:02Z")
    assert code == 0
    lines = out.splitlines()
    assert lines[0] == (
        f"{game}: puts 301d13:40:09 on the cartridge; step 49 is due at 2026-03-11 14:15:02 UTC"
    )
    due = next(line for line in lines if line.endswith("<- due"))
    assert due.split()[:4] == ["49", "write", "A000h", "01h"]
    assert game.read_bytes() == memory() + HEALTHY48


@pytest.mark.parametrize("form", ["json", "csv"])
def test_data_to_loop_over(run: Run, game: pathlib.Path, form: str) -> None:
    _, out, _ = run("sequence", game, "--at", "2026-03-11T14:15:02Z", "--format", form)
    if form == "json":
        rows = [json.loads(line) for line in out.splitlines()]
    else:
        rows = list(csv.DictReader(io.StringIO(out)))
    chip = CounterChip()
    assert {row["clock"] for row in rows} == {"counter"}
    assert [row["at"] for row in rows if row["at"]] == ["2026-03-11T14:15:02Z"]
    closing = [row for row in rows if str(row["closing"]) == "True"]
    assert [(int(row["address"]), int(row["value"])) for row in closing] == [
        (0x0000, 0), (0x4000, 0), (0x0000, 0)
    ]  # fmt: skip
    for row in rows:
        if row["kind"] == "write":
            chip.write(int(row["address"]), int(row["value"]))
    assert chip.snapshot() == CounterClock(seconds=9, minutes=40, hours=13, day_counter=301)


ROW = re.compile(r"\{0x(\w+), CLOCK_(\w+), 0x(\w+), 0x(\w+), 0x(\w+)\}, /\* (\d+): (DUE: )?")


@pytest.mark.parametrize("words", [("--at", "2026-03-11T14:15:02Z"), ()])
def test_an_array_for_a_microcontroller(
    run: Run, game: pathlib.Path, words: tuple[str, ...]
) -> None:
    _, out, _ = run("sequence", game, *words, "--format", "c")
    array, closing = out.split("static const struct clock_access counter_write_closing[")
    rows = [match for line in array.splitlines() if (match := ROW.search(line))]
    chip = CounterChip()
    read: dict[int, int] = {}
    for address, kind, value, mask, keep, at, *_ in map(re.Match.groups, rows):
        assert int(mask, 16) == 0xFF or kind == "EXPECT"
        if kind == "WRITE":
            assert keep == "FFFF"
            chip.write(int(address, 16), int(value, 16))
            continue
        byte = chip.read(int(address, 16))
        assert byte is not None
        read[int(at)] = byte & int(mask, 16)
        if kind == "EXPECT":
            assert read[int(at)] == int(value, 16)
        elif keep != "FFFF":
            assert read[int(at)] == read[int(keep, 16)]
    day, second = (301, 9) if words else (300, 7)
    assert chip.snapshot() == CounterClock(seconds=second, minutes=40, hours=13, day_counter=day)
    assert [int(row[6]) for row in rows] == list(range(56))
    assert [at for at, row in enumerate(rows) if row[7]] == ([48] if words else [])
    for line in (
        "#define COUNTER_WRITE_SPACING_US 4 ",
        "#define COUNTER_WRITE_ACCESSES_COUNT 56\n",
        "#define COUNTER_WRITE_DUE 48 ",
        "#define COUNTER_WRITE_CLOSING_COUNT 3\n",
    ):
        assert line in out
    assert len([line for line in closing.splitlines() if ROW.search(line)]) == 3


@pytest.mark.skipif(shutil.which("cc") is None, reason="there is no C compiler")
@pytest.mark.parametrize("name", ["game", "minutes6", "calendar26"])
def test_a_compiler_takes_the_array(run: Run, game: pathlib.Path, name: str) -> None:
    if name != "game":
        game.write_bytes(CALENDAR26 if name == "calendar26" else MINUTES12[:6])
    source = game.with_suffix(".c")
    kind = {"game": "counter", "minutes6": "minutes", "calendar26": "calendar"}[name]
    texts = [
        run("sequence", game, *words, "--format", "c")[1] for words in ((), ("--read", "--twice"))
    ]
    used = " + ".join(
        f"{kind}_{what}_{array}[0].keep"
        for what in ("write", "read")
        for array in ("accesses", "closing")
    )
    # both in one translation unit
    source.write_text("".join(texts) + f"int main(void) {{ return {used} < 0; }}\n")
    command = ["cc", "-std=c99", "-Wall", "-Wextra", "-Werror", str(source), "-o", f"{game}.out"]
    assert subprocess.run(command, capture_output=True, text=True).stderr == ""


def test_reading_takes_no_instant(run: Run, game: pathlib.Path) -> None:
    code, out, err = run("sequence", game, "--read", "--at", "2026-03-11T14:15:02Z")
    assert (code, out) == (2, "")
    assert "--read goes without --at" in err
    assert run("sequence", game, "--twice")[0] == 2
    once, twice = (run("sequence", game, "--read", *more)[1] for more in ((), ("--twice",)))
    assert (once.count("read  "), twice.count("read  ")) == (5, 10)


def test_json_and_what_overflows(run: Run, game: pathlib.Path) -> None:
    _, out, _ = run("sequence", game, "--at", "2027-01-01T00:00:00Z", "--json")
    answers = json.loads(out)
    assert (answers["overflows"], answers["clock"]["carry"], answers["due_step"]) == (1, True, 49)
    assert [row["closing"] for row in answers["closing"]] == [True] * 3
    assert not any(row["closing"] for row in answers["steps"])
    assert answers["spacing_us"] == 4
    assert "carry is set" in run("sequence", game, "--at", "2027-01-01T00:00:00Z")[1]


def test_reading_and_the_clock_as_it_stands(run: Run, game: pathlib.Path) -> None:
    assert "reads a counter clock in" in run("sequence", game, "--read")[1]
    assert "puts 300d13:40:07 on the cartridge\n" in run("sequence", game)[1]


def test_bad_input_prints_no_step(run: Run, game: pathlib.Path) -> None:
    game.write_bytes(memory() + HEALTHY48[:40] + bytes(8))
    ahead = ("--at", "2026-03-11T14:15:02Z")
    code, out, err = run("sequence", game, *ahead)
    assert (code, out) == (4, "")
    assert "the stamp is absent" in err
    assert run("sequence", game, *ahead, "--saved-at", "@1773152100")[0] == 0
    game.write_bytes(memory())
    assert run("sequence", game)[:2] == (3, "")
    assert run("sequence", game, "--format", "xml")[0] == 2


@pytest.mark.parametrize("at", ["now", "2026-03-11T14:14:59Z", NOW])
def test_an_instant_that_is_not_ahead_is_refused(run: Run, game: pathlib.Path, at: str) -> None:
    code, out, err = run("sequence", game, "--at", at)
    assert (code, out) == (2, "")
    assert "--at is not ahead" in err
    assert "it is 2026-03-11 14:15:00 UTC" in err


def test_saved_at_alone_is_refused(run: Run, game: pathlib.Path) -> None:
    code, out, err = run("sequence", game, "--saved-at", "@1773152100")
    assert (code, out) == (2, "")
    assert "--saved-at without --at changes nothing" in err


@pytest.mark.parametrize("words", [(), ("--at", "2026-03-11T14:15:02Z")])
def test_a_halted_save_is_announced(run: Run, game: pathlib.Path, words: tuple[str, ...]) -> None:
    assert "the clock is halted" not in run("sequence", game, *words)[1]
    assert run("set", game, "--halt", "on")[0] == 0
    assert "the clock is halted, and the steps leave it halted" in run("sequence", game, *words)[1]
    _, out, err = run("sequence", game, *words, "--format", "csv")
    assert "the clock is halted" in err
    assert out.startswith("step,clock,closing,kind,")


def test_the_waits_are_said_once(run: Run, game: pathlib.Path) -> None:
    _, out, _ = run("sequence", game, "--at", "2026-03-11T14:15:02Z")
    assert out.count("4 µs") == 1  # 4 us between accesses (Pan Docs)
    assert "leave at least 4 µs between every two accesses" in out
    rows = [line.split()[:2] for line in out.splitlines() if line[:1].isdigit()]
    assert [number for number, _ in rows] == [str(number) for number in range(1, 60)]
    assert {what for _, what in rows} == {"write", "read", "expect"}
    assert "where a step fails, do all of these" in out


@pytest.mark.parametrize("form", ["table", "csv", "json", "c"])
def test_what_speaks_against_the_clock_is_said(run: Run, game: pathlib.Path, form: str) -> None:
    at = ("--at", "2026-03-12T14:15:02Z", "--format", form)
    assert run("sequence", game, *at)[2] == ""
    ahead = (1_773_240_300).to_bytes(8, "little")  # 2026-03-11T14:45:00Z, half an hour after now
    game.write_bytes(memory() + b"\x3d" + HEALTHY48[1:40] + ahead)
    err = run("sequence", game, *at)[2]
    assert "the running seconds register is out of range: found 61, expected 0 to 59" in err
    assert "the stamp is " in err
    assert "the stamp is " not in run("sequence", game, "--format", form)[2]


def test_a_stamp_that_is_ahead_is_said_where_a_clock_is_advanced(
    run: Run, game: pathlib.Path
) -> None:
    ahead = (1_773_240_300).to_bytes(8, "little")
    game.write_bytes(memory() + HEALTHY48[:40] + ahead)
    words = ("advance", game, "--to", "2026-03-12T14:15:02Z", "--dry-run")
    assert "the stamp is " in run(*words)[1]
    (note,) = json.loads(run(*words, "--json")[1])["notes"]
    assert note.startswith("the stamp is ")
    assert json.loads(run(*words, "--saved-at", NOW, "--json")[1])["notes"] == []


def test_who_has_a_tool_for_files_is_told_what_to_do(run: Run, game: pathlib.Path) -> None:
    at = "2026-03-11T14:15:02Z"
    _, out, _ = run("sequence", game, "--at", at)
    assert (
        f"if your tool takes files: 'rtcsave advance FILE --to {at} -o OUT', and write OUT" in out
    )
    copy = game.with_name("then.sav")
    assert run("advance", game, "--to", at, "-o", copy)[0] == 0
    assert load(copy).clock_block.running.reading() == "301d13:40:09"


def test_the_other_clocks(run: Run, tmp_path: pathlib.Path) -> None:
    minutes, calendar = tmp_path / "minutes", tmp_path / "calendar"
    minutes.write_bytes(bytes.fromhex("0b 04 03 0c 02 01"))
    calendar.write_bytes(
        bytes.fromhex(
            "06 04 05 01 04 01 02 00 01 03 00 06 02 00 00 00 00 00 00 00 00 00 00 01 02 00"
        )
    )
    assert "day 300, 14:03" in run("show", minutes)[1]
    assert "26-03-10 14:15:46" in run("show", calendar)[1]
    clock = json.loads(run("show", calendar, "--json")[1])["clock"]
    assert clock["kind"] == "calendar"
    assert (clock["year"], clock["leap_counter"], clock["twelve_hour"]) == (26, 2, False)
    assert run("set", minutes, "--time", "12d03:04")[0] == 0
    assert minutes.read_bytes() == bytes.fromhex("08 0b 00 0c 00 00")
    assert run("set", minutes, "--time", "12d03:04:05")[0] == 2
    assert run("set", minutes, "--halt", "on")[0] == 2
    assert run("set", calendar, "--time", "2027-12-31 23:59:58")[0] == 0
    assert run("advance", calendar, "--by", "2s")[0] == 0
    assert "28-01-01 00:00:00" in run("show", calendar)[1]
    assert run("set", calendar, "--time", "27-02-29 00:00:00")[0] == 2
    assert run("set", calendar, "--time", "12d03:04")[0] == 2
    assert run("convert", minutes, "--to", "minutes12")[0] == 0
    assert run("convert", minutes, "--to", "registers5")[0] == 4
    assert run("elapsed", minutes, minutes)[0] == 1
    for path in (minutes, calendar):
        assert run("forecast", path)[0] == 0
        assert run("sequence", path)[0] == 0


def test_a_clock_of_minutes_is_due_at_a_whole_one(run: Run, tmp_path: pathlib.Path) -> None:
    path = tmp_path / "minutes"
    path.write_bytes(bytes(6))
    words = ("--saved-at", "2027-01-01T00:00:00Z", "--at", "2027-01-01T00:00:59Z")
    out = run("sequence", path, *words)[1]
    assert "puts 0d00:01 on the cartridge" in out
    assert "is due at 2027-01-01 00:01:00 UTC" in out
    words = ("--saved-at", "2026-01-01T00:00:00Z", "--to", "2026-01-01T00:01:30Z")
    out = run("advance", path, *words, "--dry-run")[1]
    assert "advanced by  1 min," in out
    assert "30 s: this clock shows minutes only" in out
    words = ("--saved-at", "2010-01-01T00:00:00Z", "--at", "2027-01-01T00:00:00Z")
    out = run("sequence", path, *words)[1]
    assert "overflows 1 time on the way" in out
    assert "carry" not in out


def test_what_the_programs_header_promises(
    run: Run, game: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    program = tmp_path / "program"
    image = bytearray(0x8000)
    image[0x147], image[0x149], image[0x14D] = 0x03, 0x02, 0xE7 - 5 & 0xFF
    program.write_bytes(image)
    code, out, _ = run("check", game, "--program", program)
    assert code == 1
    assert "hardware code 03h: no clock, 8,192 bytes of memory" in out
    assert "block-unexpected" in out
    assert "memory-short" in out
    assert "program" in json.loads(run("show", game, "--program", program, "--json")[1])
    image[0x147], image[0x14D] = 0x77, 0
    program.write_bytes(image)
    out = run("show", game, "--program", program)[1]
    assert "hardware code 77h is unknown" in out
    assert "checksum is wrong" in out
    assert run("check", game, "--program", game.with_name("none"))[0] == 3
    image[0x147], image[0x14D] = 0x03, 0xE7 - 5 & 0xFF
    program.write_bytes(image)
    assert run("repair", game, "--program", program, "--also", "block-unexpected")[0] == 1
    assert game.read_bytes() == memory()
