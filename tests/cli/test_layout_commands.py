"""`layouts`, `--layout FILE` and `convert` with its ways to split, join and attach."""

from __future__ import annotations

import json
import pathlib
import shutil
import sys
from collections.abc import Callable

import pytest
from known import HEALTHY44, HEALTHY48, NOW, REGISTERS5, REGISTERS10, memory, patched

from rtcsave import describe
from rtcsave.cli.main import main
from rtcsave.layouts.schema import STARTING_POINT

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples" / "saves"
WHOLE = memory() + HEALTHY48
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(command: str, *words: object) -> tuple[int, str, str]:
        code = main([command, "--now", f"@{NOW}", *map(str, words)])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call


@pytest.fixture
def bench(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> pathlib.Path:
    for name in ("workshop.sav", "workshop.toml"):
        shutil.copy(EXAMPLES / name, tmp_path)
    (tmp_path / "game.sav").write_bytes(WHOLE)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RTCSAVE_LAYOUTS", str(tmp_path / "none"))
    return tmp_path


class TestLayouts:
    def test_a_starting_point(self, run: Run, bench: pathlib.Path) -> None:
        assert run("layouts", "--new")[1] == STARTING_POINT
        answers = json.loads(run("layouts", "--new", "--json")[1])
        assert answers == {"path": None, "description": STARTING_POINT}
        assert run("layouts", "--new", "-o", "mine.toml")[0] == 0
        assert describe((bench / "mine.toml").read_text(encoding="utf-8")).name == "my-block"
        (bench / "mine.toml").write_text("name = 'precious'", encoding="utf-8")
        assert run("layouts", "--new", "-o", "mine.toml")[0] == 4
        assert run("layouts", "--new", "-o", "mine.toml", "--overwrite")[0] == 0
        assert run("layouts", "-o", "mine.toml")[0] == 2
        assert run("layouts", "--check", "mine.toml")[0] == 0

    def test_a_description_checked_with_a_sample(self, run: Run, bench: pathlib.Path) -> None:
        code, out, _ = run("layouts", "--check", "workshop.toml")
        assert code == 0
        assert "bytes 0 to 3: mark (constant) 48 51 32 36" in out
        assert "reads   12d03:04:05" in out
        answers = json.loads(run("layouts", "--check", "workshop.toml", "--json")[1])
        assert answers["saved_at"] == "2026-03-11T14:15:00Z"
        assert answers["sample"].startswith("48513236" + "05" + "04" + "03" + "0c")

    @pytest.mark.parametrize("clock", ["minutes", "calendar"])
    def test_samples_of_the_other_clocks(self, run: Run, bench: pathlib.Path, clock: str) -> None:
        fields = {
            "minutes": ("minute_of_day", "day_counter"),
            "calendar": ("year", "month", "day", "hours", "minutes", "seconds"),
        }[clock]
        text = f'name = "x"\nsize = 32\nclock = "{clock}"\n' + "".join(
            f'[[field]]\noffset = {4 * n}\nbytes = 2\nholds = "{name}"\n'
            for n, name in enumerate(fields)
        )
        (bench / "x.toml").write_text(text, encoding="utf-8")
        code, out, err = run("layouts", "--check", "x.toml")
        assert (code, err) == (0, "")
        assert ("12d03:04" if clock == "minutes" else "26-03-10 03:04:05") in out

    def test_a_sample_of_what_a_small_layout_holds(self, run: Run, bench: pathlib.Path) -> None:
        text = 'name = "x"\nsize = 4\n[[field]]\noffset = 0\nbytes = 2\nholds = "day_counter"\n'
        (bench / "x.toml").write_text(text + "[stamp]\noffset = 2\nbytes = 2\n", "utf-8")
        assert run("layouts", "--check", "x.toml")[0] == 0

    def test_what_is_wrong_is_named(self, run: Run, bench: pathlib.Path) -> None:
        (bench / "bad.toml").write_text('name = "x"\nsize = 5\n[[field]]\nofset = 0\n', "utf-8")
        code, _, err = run("layouts", "--check", "bad.toml")
        assert code == 3
        assert "bad.toml, key field[0].offset" in err
        assert run("layouts", "--check", "none.toml")[0] == 3

    def test_a_layout_by_its_file_in_every_command(self, run: Run, bench: pathlib.Path) -> None:
        assert run("show", "workshop.sav")[0] == 3
        for encoding in ("utf-8", "utf-8-sig", "utf-16"):
            text = (EXAMPLES / "workshop.toml").read_text(encoding="utf-8")
            (bench / "workshop.toml").write_bytes(text.encode(encoding))
            code, out, _ = run("show", "workshop.sav", "--layout", "workshop.toml")
            assert code == 0
            assert "day 212, 13:40:07" in out
        assert run("check", "workshop.sav", "--layout", "workshop.toml")[0] == 0
        assert run("advance", "workshop.sav", "--layout", "workshop.toml")[0] == 0
        assert (
            run("convert", "workshop.sav", "--layout", "workshop.toml", "--to", "block48")[0] == 0
        )
        assert run("show", "workshop.sav")[0] == 0
        assert run("convert", "workshop.sav", "--to", "workshop.toml", "--drop-latched")[0] == 0
        assert run("check", "workshop.sav", "--layout", "workshop.toml")[0] == 0

    def test_a_folder_of_layouts_is_known_by_name_and_found(
        self, run: Run, bench: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("RTCSAVE_LAYOUTS", str(bench))
        assert "workshop " in run("layouts")[1]
        assert "day 212, 13:40:07" in run("show", "workshop.sav")[1]
        assert run("show", "workshop.sav", "--layout", "workshop")[0] == 0
        assert "did you mean workshop?" in run("show", "workshop.sav", "--layout", "wrkshop")[2]
        (bench / "bad.toml").write_text("size = 5", encoding="utf-8")
        code, _, err = run("show", "workshop.sav")
        assert code == 0
        assert "bad.toml" in err
        assert "left out" in err


class TestConvert:
    def test_split_and_join_are_there_and_back(self, run: Run, bench: pathlib.Path) -> None:
        code, out, _ = run("convert", "game.sav", "--split", "game.clock")
        assert code == 0
        assert (bench / "game.sav").read_bytes() == memory()
        assert (bench / "game.clock").read_bytes() == HEALTHY48
        assert "game.clock: a standalone clock block, block48" in out
        assert run("convert", "game.sav", "--join", "game.clock")[0] == 0
        assert (bench / "game.sav").read_bytes() == WHOLE

    @pytest.mark.parametrize(
        ("layout", "block_bytes", "more"),
        [
            ("registers5", REGISTERS5, ["--drop-stamp", "--drop-latched"]),
            ("registers10", REGISTERS10, ["--drop-stamp"]),
            ("block44", HEALTHY44, []),
        ],
    )
    def test_split_into_another_layout(
        self, run: Run, bench: pathlib.Path, layout: str, block_bytes: bytes, more: list[str]
    ) -> None:
        if more:
            assert run("convert", "game.sav", "--split", "c", "--to", layout)[0] == 4
            assert (bench / "game.sav").read_bytes() == WHOLE
            assert not (bench / "c").exists()
        words = ("convert", "game.sav", "--split", "c", "--to", layout, *more)
        assert run(*words, "--dry-run")[0] == 0
        assert not (bench / "c").exists()
        assert run(*words)[0] == 0
        assert (bench / "c").read_bytes() == block_bytes
        assert (bench / "game.sav").read_bytes() == memory()

    def test_a_clock_file_that_exists_is_refused_before_anything_changes(
        self, run: Run, bench: pathlib.Path
    ) -> None:
        (bench / "c").write_bytes(b"precious")
        assert run("convert", "game.sav", "--split", "c")[0] == 4
        assert (bench / "c").read_bytes() == b"precious"
        assert (bench / "game.sav").read_bytes() == WHOLE
        (bench / "out").write_bytes(b"precious too")
        assert run("convert", "game.sav", "--split", "d", "-o", "out")[0] == 4
        assert not (bench / "d").exists()

    @pytest.mark.parametrize(
        "more", [[], ["--overwrite"], ["--overwrite", "--no-backup"], ["--dry-run"]]
    )
    def test_a_clock_file_that_is_the_save_itself_is_refused(
        self, run: Run, bench: pathlib.Path, more: list[str]
    ) -> None:
        names = ["game.sav", "./game.sav"]
        if sys.platform != "win32":
            (bench / "link.sav").symlink_to("game.sav")
            (bench / "hard.sav").hardlink_to(bench / "game.sav")
            names += ["link.sav", "hard.sav"]
        for name in names:
            assert run("convert", "game.sav", "--split", name, *more)[0] == 2
        assert run("convert", "game.sav", "--split", "x", "-o", "x", *more)[0] == 2
        assert (bench / "game.sav").read_bytes() == WHOLE
        assert not (bench / "x").exists()

    def test_join_takes_a_clock_that_a_description_reads(
        self, run: Run, bench: pathlib.Path
    ) -> None:
        words = ("--layout", "workshop.toml")
        assert run("convert", "workshop.sav", *words, "--split", "one.clock")[0] == 0
        before = (bench / "workshop.sav").read_bytes()
        assert run("convert", "workshop.sav", "--join", "one.clock", *words)[0] == 0
        assert run("check", "workshop.sav", *words)[0] == 0
        (bench / "workshop.sav").write_bytes(before)
        assert (
            run("convert", "workshop.sav", "--join", "one.clock", "--to", "workshop.toml")[0] == 0
        )
        assert run("check", "workshop.sav", *words)[0] == 0
        (bench / "workshop.sav").write_bytes(before)
        code, _, err = run("convert", "workshop.sav", "--join", "one.clock")
        assert code == 3
        assert "one.clock" in err

    def test_join_in_another_layout(self, run: Run, bench: pathlib.Path) -> None:
        (bench / "image.sav").write_bytes(memory())
        (bench / "c").write_bytes(REGISTERS10)
        assert run("convert", "image.sav", "--join", "c")[0] == 4
        assert run("convert", "image.sav", "--join", "c", "--to", "block44")[0] == 0
        assert (bench / "image.sav").read_bytes() == memory() + HEALTHY44[:40] + bytes(4)
        assert run("convert", "image.sav", "--join", "c", "--to", "block44")[0] == 4
        (bench / "bare.sav").write_bytes(memory())
        assert run("convert", "bare.sav", "--join", "game.sav")[0] == 2

    def test_attach(self, run: Run, bench: pathlib.Path) -> None:
        (bench / "image.sav").write_bytes(memory())
        assert run("convert", "image.sav", "--attach", "registers5")[0] == 4
        assert run("convert", "image.sav", "--attach", "block48")[0] == 0
        assert (bench / "image.sav").read_bytes() == memory() + bytes(40) + bytes.fromhex(
            "e478b16900000000"
        )
        assert run("convert", "image.sav", "--attach", "block48")[0] == 4
        (bench / "image.sav").write_bytes(memory())
        assert run("convert", "image.sav", "--attach", "workshop.toml")[0] == 0
        assert run("check", "image.sav", "--layout", "workshop.toml")[0] == 0

    def test_a_layout_that_lies_alone_refuses_memory(self, run: Run, bench: pathlib.Path) -> None:
        code, _, err = run("convert", "game.sav", "--to", "registers5")
        assert code == 4
        assert "'rtcsave convert --split'" in err

    @pytest.mark.parametrize(
        "words",
        [
            (),
            ("--strip", "--to", "block44"),
            ("--attach", "block48", "--to", "block44"),
            ("--split", "a", "--join", "b"),
            ("--split", "-"),
            ("--drop-stamp", "--strip"),
        ],
    )
    def test_ways_that_contradict(
        self, run: Run, bench: pathlib.Path, words: tuple[str, ...]
    ) -> None:
        assert run("convert", "game.sav", *words)[0] == 2
        assert (bench / "game.sav").read_bytes() == WHOLE


def test_wild_saves_are_repaired_on_the_command_line(run: Run, bench: pathlib.Path) -> None:
    path = bench / "duplicate.sav"
    path.write_bytes(WHOLE + patched(HEALTHY48, 40, "65"))
    assert run("show", path)[0] == 3
    assert run("check", path)[0] == 1
    assert run("repair", path)[0] == 0
    assert path.read_bytes() == memory() + patched(HEALTHY48, 40, "65")
    padded = bench / "padded.sav"
    padded.write_bytes(WHOLE.ljust(8_192, b"\xff"))
    assert run("repair", padded)[0] == 1
    assert run("repair", padded, "--also", "block-inside")[0] == 0
    assert padded.read_bytes() == WHOLE
    assert run("restore", padded)[0] == 0
    assert padded.read_bytes() == WHOLE.ljust(8_192, b"\xff")
