"""`survey` on the command line: the table, lines of JSON, CSV, exit codes, and being stopped."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import pathlib
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import pytest
from collections_made import healthy, program

from rtcsave import SurveyRow
from rtcsave.cli.main import main
from rtcsave.strategies import DAMAGES, NOW

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*words: object) -> tuple[int, str, str]:
        code = main(["survey", "--now", f"@{NOW}", *map(str, words)])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


@pytest.fixture
def shelf(tmp_path: pathlib.Path) -> pathlib.Path:
    folder = tmp_path / "shelf"
    (folder / "deep").mkdir(parents=True)
    (folder / "tide clerk.sav").write_bytes(healthy(day=300))
    (folder / "deep" / "lantern vale.sav").write_bytes(healthy(day=12))
    (folder / "harrow quay.sav").write_bytes(healthy()[:-8] + bytes(8))
    (folder / "ferry.sav").write_bytes(healthy()[:8_192] + bytes([61]) + healthy()[8_193:])
    (folder / "cut.sav").write_bytes(healthy()[:-20])
    (folder / "readme.txt").write_text("lent out")
    return folder


def test_the_table_has_first_what_needs_a_person(run: Run, shelf: pathlib.Path) -> None:
    code, out, err = run(shelf)
    assert code == 0
    assert err == (
        f"rtcsave: passed over 1 file, by length and content no save: {shelf / 'readme.txt'}; "
        "'rtcsave check FILE' says more of one\n"
    )
    head, *lines, numbers = out.splitlines()
    assert head.split() == ["file", "clock", "now", "saved", "overflows", "in", "findings"]
    assert [pathlib.Path(line.split("  ")[0]).name for line in lines] == [
        "cut.sav", "ferry.sav", "harrow quay.sav", "tide clerk.sav", "lantern vale.sav",
    ]  # fmt: skip
    assert lines[0].endswith("error: block-cut-short")
    assert "210 days" in lines[3]
    assert numbers == "5 files: 2 healthy, 1 with an error, 2 with a warning"


def test_lines_of_json_have_the_keys_of_show(run: Run, shelf: pathlib.Path) -> None:
    code, out, err = run(shelf, "--json", "--sort", "path")
    assert code == 0
    assert err.startswith("rtcsave: 5 files: 2 healthy, 1 with an error, 2 with a warning\n")
    rows = {pathlib.Path(row["path"]).name: row for row in map(json.loads, out.splitlines())}
    assert rows["tide clerk.sav"] == {
        "path": str(shelf / "tide clerk.sav"),
        "memory_bytes": 8_192,
        "layout": "block48",
        "clock": {"kind": "counter", "seconds": 5, "minutes": 4, "hours": 3, "day_counter": 300,
                  "halt": False, "carry": False, "in_range": True},
        "clock_now": {"kind": "counter", "seconds": 5, "minutes": 4, "hours": 3, "day_counter": 301,
                      "halt": False, "carry": False, "in_range": True},
        "latched": {"kind": "counter", "seconds": 5, "minutes": 4, "hours": 3, "day_counter": 300,
                    "halt": False, "carry": False, "in_range": True},
        "stamp": 1_790_769_600,
        "saved_at": "2026-09-30T12:00:00Z",
        "overflow_at": "2027-04-30T08:55:55Z",
        "findings": [],
        "days_to_overflow": 210,
        "worst": None,
    }  # fmt: skip
    assert rows["cut.sav"]["error"] == "BlockCutShort"
    assert rows["cut.sav"]["findings"][0]["code"] == "block-cut-short"
    shown = json.loads(run_show(shelf / "tide clerk.sav"))
    assert {**rows["tide clerk.sav"], **shown} == rows["tide clerk.sav"]


def run_show(path: pathlib.Path) -> str:
    words = [sys.executable, "-m", "rtcsave", "show", "--json", "--now", f"@{NOW}", str(path)]
    return subprocess.run(words, capture_output=True, encoding="utf-8", check=True).stdout


def test_csv(run: Run, shelf: pathlib.Path) -> None:
    code, out, _ = run(shelf, "--format", "csv", "--sort", "days")
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(out)))
    assert pathlib.Path(rows[0]["path"]).name == "tide clerk.sav"
    assert rows[0]["clock"] == "300d03:04:05"
    assert rows[0]["days_to_overflow"] == "210"
    target = shelf.parent / "shelf.csv"
    assert run(shelf, "--format", "csv", "--sort", "days", "-o", target)[:2] == (0, "")
    assert target.read_text() == out
    code, _, err = run(shelf, "--format", "csv", "-o", target)
    assert code == 4
    assert "another file stands there" in err
    assert run(shelf, "-o", target)[0] == 2


@pytest.mark.parametrize(
    ("words", "code", "count"),
    [
        (("--severity", "error"), 0, 1),
        (("--severity", "warning"), 0, 3),
        (("--fail-on", "error"), 1, 5),
        (("--severity", "error", "--fail-on", "note"), 1, 1),
        (("--glob", "*quay*"), 0, 1),
        (("--glob", "*quay*", "--fail-on", "error"), 0, 1),
    ],
)
def test_what_is_shown_and_what_fails(
    run: Run, shelf: pathlib.Path, words: tuple[str, ...], code: int, count: int
) -> None:
    exit_code, out, _ = run(shelf, "--json", *words)
    assert (exit_code, len(out.splitlines())) == (code, count)


@pytest.mark.parametrize("format_", [("--json",), ("--format", "csv"), ()])
def test_processes_give_the_same(run: Run, shelf: pathlib.Path, format_: tuple[str, ...]) -> None:
    plain = run(shelf, "--sort", "path", *format_)
    assert run(shelf, "--sort", "path", "--jobs", "2", *format_) == plain


def test_no_false_all_clear(run: Run, shelf: pathlib.Path) -> None:
    code, out, err = run(shelf.parent / "shelve")
    assert code == 3
    assert "there is no such file" in out + err
    empty = shelf.parent / "empty"
    empty.mkdir()
    assert run(empty)[0] == 3
    assert "no save was found" in run(empty)[2]
    code, out, _ = run(shelf, shelf / "readme.txt")
    assert code == 3
    assert "readme.txt" in out


def test_a_list_of_files(run: Run, shelf: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = [str(shelf / "tide clerk.sav"), str(shelf / "cut.sav")]
    listed = shelf.parent / "list"
    listed.write_text("\n".join(paths) + "\n")
    assert len(run("--files-from", listed, "--json")[1].splitlines()) == 2
    monkeypatch.setattr("sys.stdin", io.StringIO("\0".join(paths) + "\0"))
    assert len(run("--files-from", "-", "--null", "--json")[1].splitlines()) == 2
    assert run("--null", shelf)[0] == 2
    assert run("--files-from", shelf.parent / "nothing")[0] == 3


def test_programs(run: Run, shelf: pathlib.Path) -> None:
    programs = shelf.parent / "programs"
    programs.mkdir()
    (programs / "tide clerk.program").write_bytes(program(b"TIDE CLERK", 0x10, 0x03))
    _, out, _ = run(shelf, "--program", programs, "--json", "--glob", "tide*")
    assert [f["code"] for f in json.loads(out)["findings"]] == ["memory-short"]


def test_wrong_usage(run: Run, shelf: pathlib.Path) -> None:
    for words in (
        (),
        (shelf, "--jobs", "0"),
        (shelf, "--sort", "size"),
        (shelf, "--severity", "bad"),
    ):
        assert run(*words)[0] == 2


def test_being_stopped_says_that_it_is_not_all(
    run: Run, shelf: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rtcsave.collection import surveying

    looked: list[str] = []
    quick_look = surveying.quick_look

    def stopping(path: str, now_s: int) -> Any:
        if len(looked) == 3:
            raise KeyboardInterrupt
        looked.append(path)
        return quick_look(path, now_s)

    monkeypatch.setattr(surveying, "quick_look", stopping)
    code, out, err = run(shelf, "--format", "csv")
    assert code == 130
    assert "stopped; this is not all. So far" in err
    assert 1 <= len(out.splitlines()) <= 4


def test_hostile_names_do_not_reach_the_terminal(run: Run, tmp_path: pathlib.Path) -> None:
    folder = tmp_path / "odd"
    folder.mkdir()
    try:
        (folder / "a\x1b]0;title\x07\u202egpj.sav").write_bytes(healthy())
    except OSError:
        pytest.skip("this system refuses such names")
    out = run(folder)[1]
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert json.loads(run(folder, "--json")[1])["path"].endswith("gpj.sav")


def test_damaged_saves_of_every_kind_are_rows(run: Run, tmp_path: pathlib.Path) -> None:
    import random

    from collections_made import block

    chance = random.Random(4)
    folder = tmp_path / "damaged"
    folder.mkdir()
    for code, damage in DAMAGES.items():
        plain = block(chance).plain()
        (folder / f"{code}.sav").write_bytes(damage(chance.randbytes(8_192), plain, 7, NOW))
    rows = [json.loads(line) for line in run(folder, "--json")[1].splitlines()]
    assert len(rows) == len(DAMAGES)
    for row in rows:
        assert pathlib.Path(row["path"]).stem in {finding["code"] for finding in row["findings"]}


class TestRegister:
    def test_rows_for_new_saves_and_nothing_else(self, run: Run, shelf: pathlib.Path) -> None:
        register = shelf.parent / "register.csv"
        code, _, err = run(shelf, "--shelf", register, "--update", "--sort", "path")
        assert code == 0
        assert err.splitlines()[-1] == f"rtcsave: {register}: 4 rows added, for saves with a clock"
        lines = register.read_text().splitlines()
        assert lines[0] == "file,title,cell,fitted,current_ua,rate_ppm"
        assert "shelf/tide clerk.sav,,,,," in lines
        register.write_text(
            register.read_text().replace("shelf/tide clerk.sav,", "shelf/tide clerk.sav,Tide Clerk")
            + "shelf/gone.sav,Ferry,,,,\n"
        )
        before = register.read_bytes()
        (shelf / "new.sav").write_bytes(healthy())
        _, out, err = run(shelf, "--shelf", register, "--update", "--json")
        titles = {json.loads(line)["title"] for line in out.splitlines()}
        assert titles == {"", "Tide Clerk"}
        assert f"{register}: 1 save of it not found in this survey: {shelf / 'gone.sav'}" in err
        assert register.read_bytes() == before + b"shelf/new.sav,,,,,\n"
        (backup,) = register.parent.glob("register.csv.*.bak")
        assert backup.read_bytes() == before
        assert "no save is missing in it" in run(shelf, "--shelf", register, "--update")[2]
        assert run(shelf, "--update")[0] == 2
        assert run(shelf, "--shelf", shelf / "nothing.csv")[0] == 3

    def test_each_cartridge_has_its_own_cell_and_rate(
        self, shelf: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        register = shelf.parent / "register.csv"
        register.write_text(
            "file,title,cell,fitted,current_ua,rate_ppm\n"
            "shelf/tide clerk.sav,Tide Clerk,CR2025,2024-05-01,1.1,50\n"
            "shelf/deep/lantern vale.sav,Lantern Vale,,,,\n"
        )
        words = ["forecast", "--now", f"@{NOW}", "--shelf", str(register), "--json"]
        assert main(words) == 0
        first, second = map(json.loads, capsys.readouterr().out.splitlines())
        # 165 mAh at 1.1 µA, and 1 % of it a year by itself: 165 / (9.636 + 1.65) years
        assert first["cell_years"] == pytest.approx([14.62, 14.62], abs=0.01)
        assert second["cell_years"] is None
        assert first["overflow_at"] != "2027-04-30T08:55:55Z"
        calendar = shelf.parent / "shelf.ics"
        assert (
            main(["remind", "--now", f"@{NOW}", "--shelf", str(register), "-o", str(calendar)]) == 0
        )
        text = calendar.read_bytes().decode().replace("\r\n ", "")
        assert text.count("BEGIN:VEVENT") == 3
        assert f"({shelf})" in text
        assert f"({shelf / 'deep'})" in text


def test_folders_for_the_commands_of_many_files(
    shelf: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    now = ("--now", f"@{NOW}")
    assert main(["check", *now, str(shelf), "--json"]) == 1
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert len(rows) == 5
    assert main(["check", *now, str(shelf / "deep"), "--fail-on", "warning"]) == 0
    assert main(["check", *now, str(shelf / "ferry.sav"), "--fail-on", "error"]) == 0
    assert main(["check", *now, str(shelf / "ferry.sav"), "--fail-on", "warning"]) == 1
    capsys.readouterr()
    assert main(["forecast", *now, str(shelf / "deep"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["days_left"] == 498
    calendar = shelf.parent / "all.ics"
    assert main(["remind", *now, str(shelf), "-o", str(calendar)]) == 3  # one is cut short
    assert calendar.read_text().count("BEGIN:VEVENT") == 3
    empty = shelf.parent / "empty"
    empty.mkdir()
    for command in (["check"], ["forecast"], ["remind", "-o", str(calendar)]):
        assert main([*command, str(empty)]) == 3
    assert main(["forecast"]) == 2


class TestWhatATrialFound:
    """What a collector met: each of these went wrong in silence, or stopped for good."""

    def test_a_cut_off_save_and_an_empty_one_are_not_passed_over_in_silence(
        self, run: Run, tmp_path: pathlib.Path
    ) -> None:
        (tmp_path / "whole.sav").write_bytes(healthy())
        (tmp_path / "empty.sav").write_bytes(b"")
        (tmp_path / "torn.sav").write_bytes(healthy()[:5_000])
        for words in ((), ("--jobs", "2")):
            code, out, err = run(tmp_path, *words)
            assert code == 0
            assert "1 file: 1 healthy" in out
            assert "passed over 2 files, by length and content no save: " in err
            assert "empty.sav" in err
            assert "torn.sav" in err

    @pytest.mark.skipif(os.name != "posix", reason="links need rights elsewhere")
    def test_a_link_in_a_circle_costs_no_other_row(self, run: Run, tmp_path: pathlib.Path) -> None:
        (tmp_path / "ring.sav").symlink_to("ring.sav")
        for name in ("a", "z"):
            (tmp_path / f"{name}.sav").write_bytes(healthy())
        code, out, _ = run(tmp_path, "--follow")
        assert code == 0
        assert "3 files: 2 healthy, 1 with an error" in out
        assert "go in a circle" in out

    def test_names_that_a_register_cannot_hold_are_left_out_of_it(
        self, run: Run, tmp_path: pathlib.Path
    ) -> None:
        folder, register = tmp_path / "odd", tmp_path / "register.csv"
        folder.mkdir()
        if os.name == "posix":
            with open(os.fsencode(folder) + b"/caf\xe9.sav", "wb") as stream:
                stream.write(healthy())
        (folder / "tide .sav").write_bytes(healthy())
        (folder / " lead.sav").write_bytes(healthy())
        for _ in range(3):  # again and again: no row is added twice
            assert run(folder, "--shelf", register, "--update")[0] == 0
        rows = register.read_text(encoding="utf-8").splitlines()
        assert sorted(row.partition(",")[0] for row in rows[1:]) == [
            "odd/ lead.sav",
            "odd/tide .sav",
        ]

    def test_a_page_is_not_written_of_a_part(
        self, run: Run, shelf: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        pytest.importorskip("jinja2")
        calls = 0
        whole = SurveyRow.worst.fget  # type: ignore[attr-defined]

        def stopped(row: SurveyRow) -> object:
            nonlocal calls
            calls += 1
            if calls == 3:
                raise KeyboardInterrupt
            return whole(row)

        monkeypatch.setattr(SurveyRow, "worst", property(stopped))
        page = shelf / "page.html"
        code, out, err = run(shelf, "--html", page)
        assert code == 130
        assert "stopped; this is not all" in out
        assert "the page was not written" in err
        assert not page.exists()

    @pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
    def test_an_interrupt_ends_a_survey_on_many_processes(self, tmp_path: pathlib.Path) -> None:
        for number in range(400):
            (tmp_path / f"{number:04}.sav").write_bytes(healthy()[:-8] + bytes(8))
        for after_s in (0.25, 0.4):
            words = [
                sys.executable,
                "-m",
                "rtcsave",
                "survey",
                str(tmp_path),
                "--jobs",
                "2",
                "--json",
            ]
            with subprocess.Popen(
                words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
            ) as process:
                time.sleep(after_s)
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGINT)
                _, err = process.communicate(timeout=60)
            assert process.returncode in (0, 130)
            assert b"Traceback" not in err
