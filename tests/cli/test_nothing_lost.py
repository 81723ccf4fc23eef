"""The command at the edges where something could be lost, or a false thing said."""

from __future__ import annotations

import json
import os
import pathlib
import subprocess
import sys
from typing import Any

import pytest
from known import HEALTHY48, REGISTERS5, STAMP, memory, patched

from rtcsave.cli.main import main
from rtcsave.errors import escaped

WHOLE = memory() + HEALTHY48
NOW = ("--now", "2026-03-11T14:15:00Z")
POSIX = os.name == "posix"
HOSTILE = "g\x1b]0;title\x07\x9b2J\u202egpj.\nsav"


@pytest.fixture
def game(tmp_path: pathlib.Path) -> pathlib.Path:
    path = tmp_path / "tide clerk.sav"
    path.write_bytes(WHOLE)
    return path


class Ran:
    def __init__(self, capsys: pytest.CaptureFixture[str], *words: object) -> None:
        self.code = main([str(words[0]), *NOW, *map(str, words[1:])])
        self.out, self.err = capsys.readouterr()

    @property
    def object(self) -> dict[str, Any]:
        (line,) = self.out.splitlines()
        answers: dict[str, Any] = json.loads(line)
        return answers


class TestPatterns:
    def test_they_pass_over_our_backups_and_temporary_files(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        backup = game.with_name("tide clerk.sav.20260310T141500Z.bak")
        others = [backup, game.with_name(".tide clerk.sav.0123abcd.tmp")]
        for other in others:
            other.write_bytes(WHOLE)
        for pattern in ("tide*", "*", ".*"):
            Ran(capsys, "advance", "--by", "1d", "--no-backup", game.with_name(pattern))
            assert [other.read_bytes() for other in others] == [WHOLE, WHOLE], pattern
        assert game.read_bytes() != WHOLE

    def test_named_outright_a_backup_is_taken(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        backup = game.with_name("tide clerk.sav.20260310T141500Z.bak")
        backup.write_bytes(WHOLE)
        assert Ran(capsys, "show", backup).code == 0


class TestFileTime:
    def test_it_is_refused_where_the_stamp_says_when(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        os.utime(game, (STAMP - 4 * 365 * 86_400, STAMP - 4 * 365 * 86_400))
        done = Ran(capsys, "advance", game, "--saved-at", "file-time")
        assert done.code == 4
        assert "stamp 2026-03-10 14:15:00 UTC, file time 2022-03-11 14:15:00 UTC" in done.err
        assert game.read_bytes() == WHOLE
        done = Ran(capsys, "advance", game, "--saved-at", "2022-03-11T14:15:00Z")
        assert done.code == 0
        assert "(--saved-at; the stamp says 2026-03-10 14:15:00 UTC)" in done.out

    def test_without_a_stamp_it_is_taken_and_becomes_the_record(
        self, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        clock = tmp_path / "clock"
        clock.write_bytes(REGISTERS5)
        os.utime(clock, (STAMP, STAMP))
        for _ in range(3):
            done = Ran(capsys, "advance", clock, "--saved-at", "file-time")
            assert done.code == 0
            assert clock.read_bytes() == patched(REGISTERS5, 3, "2d")  # day 301, once
        assert "the file's time is the only record" in done.out

    def test_check_says_what_a_copy_does_to_it(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        game.write_bytes(memory() + HEALTHY48[:40] + bytes(8))
        assert "copying a file may change that" in Ran(capsys, "check", game).out


class TestHopelessBlocks:
    @pytest.mark.parametrize(
        ("tail", "code"),
        [
            (HEALTHY48[:12], "block-cut-short"),
            (b"\xff" * 12, "block-unreadable"),
            (b"\xff" * 48, "block-unreadable"),
            (b"\xff" * 44, "block-unreadable"),
        ],
    )
    def test_the_memory_can_be_kept_and_the_rest_dropped(
        self,
        game: pathlib.Path,
        capsys: pytest.CaptureFixture[str],
        tail: bytes,
        code: str,
    ) -> None:
        game.write_bytes(memory() + tail)
        done = Ran(capsys, "check", game)
        assert done.code == 1
        assert code in done.out
        assert "convert --strip" in done.out
        image = game.with_name("image.sav")
        done = Ran(capsys, "convert", game, "--strip", "-o", image)
        assert done.code == 0
        assert image.read_bytes() == memory()
        assert f"{len(tail)} bytes that are no clock block" in done.out
        assert game.read_bytes() == memory() + tail

    def test_repair_drops_it_when_named_only(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        game.write_bytes(memory() + b"\xff" * 48)
        assert Ran(capsys, "repair", game).code == 1
        assert game.read_bytes() == memory() + b"\xff" * 48
        assert Ran(capsys, "repair", game, "--also", "block-unreadable").code == 0
        assert game.read_bytes() == memory()

    def test_a_long_tail_is_not_dropped_for_a_block(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        game.write_bytes(memory() + b"\x01" * 1_025)
        assert Ran(capsys, "convert", game, "--strip").code == 3
        assert game.read_bytes() == memory() + b"\x01" * 1_025

    def test_identical_blocks_need_no_name(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        game.write_bytes(WHOLE + HEALTHY48)
        assert Ran(capsys, "repair", game).code == 0
        assert game.read_bytes() == WHOLE


class TestWhatIsSaid:
    @pytest.mark.skipif(not POSIX, reason="needs a folder that can go")
    def test_a_working_folder_that_is_gone(self, tmp_path: pathlib.Path) -> None:
        done = subprocess.run(
            f"mkdir gone && cd gone && rmdir ../gone && {sys.executable} -m rtcsave advance x.sav",
            cwd=tmp_path,
            shell=True,
            capture_output=True,
            text=True,
            check=False,
            env={**os.environ, "PYTHONPATH": str(pathlib.Path(__file__).parents[2])},
        )
        assert done.returncode == 3
        assert "it was dealt with" not in done.stderr
        assert "Traceback" not in done.stderr

    def test_an_error_of_the_system_in_between(
        self,
        game: pathlib.Path,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        def fail(*args: object, **kwargs: object) -> None:
            raise OSError(5, "Input/output error")

        monkeypatch.setattr("rtcsave.cli.writing.byte_changes", fail)
        done = Ran(capsys, "advance", game)
        assert done.code == 3
        assert "the system refused: the disk failed" in done.err
        assert "dealt with" not in done.err
        assert game.read_bytes() == WHOLE

    @pytest.mark.skipif(not POSIX, reason="needs a shell that closes streams")
    def test_a_save_into_a_closed_output_is_an_error(self, game: pathlib.Path) -> None:
        done = subprocess.run(
            f"{sys.executable} -m rtcsave advance '{game}' -o - >&-",
            shell=True,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 3
        assert "standard output is closed" in done.stderr

    def test_a_calendar_does_not_replace_its_save(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        for more in ((), ("--overwrite",)):
            done = Ran(capsys, "remind", game, "-o", game, *more)
            assert done.code == 2
            assert "the output is a file that is read" in done.err
            assert game.read_bytes() == WHOLE

    def test_a_stream_can_be_previewed(
        self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        import io

        data = memory() + patched(HEALTHY48, 0, "3d")
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
        done = Ran(capsys, "repair", "-", "--dry-run")
        assert done.code == 0
        assert "register-past-range" in done.out
        assert "nothing was written" in done.out

    @pytest.mark.skipif(not POSIX, reason="hard links are POSIX's")
    def test_a_second_name_is_said_by_a_dry_run_too(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        os.link(game, game.with_name("the same.sav"))
        for words in (("--dry-run",), ()):
            done = Ran(capsys, "advance", game, *words)
            assert "another name (hard links), which keep the old bytes" in done.err


class TestHostileNames:
    def test_one_line_that_steers_nothing(self) -> None:
        assert escaped(HOSTILE) == (r"g\x1b]0;title\x07\x9b2J\u202egpj.\nsav")
        assert escaped("prêt № 7 — ä") == "prêt № 7 — ä"
        assert escaped("\udcff\u2028") == r"\udcff\u2028"

    @pytest.mark.skipif(sys.platform != "linux", reason="other systems allow no such names")
    def test_of_files(self, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
        path = tmp_path / HOSTILE
        path.write_bytes(WHOLE)
        calendar = tmp_path / "clocks.ics"
        said = ""
        for words in (
            ("show", path), ("check", path), ("advance", path, "--dry-run"), ("repair", path),
            ("forecast", path), ("diff", path, path), ("show", f"{path}x"), ("restore", path, "--list"),
            ("remind", path, "-o", calendar), ("set", path, "--halt", "\x1b[31m"), (f"{path}",),
        ):  # fmt: skip
            done = Ran(capsys, *words)
            said += done.out + done.err
        for character in ("\x1b", "\x07", "\x9b", "\u202e"):
            assert character not in said
            assert character.encode() not in calendar.read_bytes()
        assert r"g\x1b]0;title" in said
        assert Ran(capsys, "show", path, "--json").object["path"] == str(path)

    def test_of_layouts(
        self,
        tmp_path: pathlib.Path,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        text = 'name = "x"\nsummary = "\\u001b[2Jgone\\nnext"\nsize = 8\n'
        text += '[[field]]\noffset = 0\nholds = "seconds"\n'
        (tmp_path / "x.toml").write_text(text, encoding="utf-8")
        monkeypatch.setenv("RTCSAVE_LAYOUTS", str(tmp_path))
        done = Ran(capsys, "layouts")
        assert "\x1b" not in done.out
        assert r"\x1b[2Jgone\nnext" in done.out


class TestLayoutsFolder:
    def test_one_that_cannot_be_read_stops_nothing(
        self,
        game: pathlib.Path,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        monkeypatch.setenv("RTCSAVE_LAYOUTS", str(game))  # a file where a folder is meant
        done = Ran(capsys, "show", game)
        assert done.code == 0
        assert "your own layouts are left out" in done.err
        assert Ran(capsys, "show", game, "--layout", "mine").code == 2

    @pytest.mark.parametrize("name", ["", "a b", "_io", "\x1b[2J"])
    def test_a_name_that_is_none_is_named_and_left_out(
        self,
        game: pathlib.Path,
        tmp_path: pathlib.Path,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
        name: str,
    ) -> None:
        folder = tmp_path / "layouts"
        folder.mkdir()
        text = 'name = "x"\nsize = 8\n[[field]]\noffset = 0\nholds = "seconds"\nname = '
        (folder / "x.toml").write_text(text + json.dumps(name), encoding="utf-8")
        monkeypatch.setenv("RTCSAVE_LAYOUTS", str(folder))
        done = Ran(capsys, "show", game)
        assert done.code == 0
        assert "has a name that is none" in done.err
        assert "x.toml" in done.err


@pytest.mark.parametrize("words", [("--by", "--"), ("--by=--",), ("--to=--",), ("-o--",)])
def test_two_dashes_are_no_value(
    game: pathlib.Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    done = Ran(capsys, "advance", game, *words)
    assert done.code == 2
    assert "expected one argument" in done.err
    assert game.read_bytes() == WHOLE


@pytest.mark.parametrize("year", ["0001-01-01T00:00:00Z", "9999-12-31T00:00:00Z"])
def test_the_ends_of_all_dates(
    game: pathlib.Path, capsys: pytest.CaptureFixture[str], year: str
) -> None:
    for words in (
        ("show", game),
        ("check", game),
        ("forecast", game),
        ("advance", game, "--dry-run"),
    ):
        code = main([str(words[0]), "--now", year, *map(str, words[1:])])
        early = year.startswith("0001")
        assert (
            code
            == {"show": 0, "check": 1, "forecast": 0, "advance": 4 if early else 0}[str(words[0])]
        )
    calendar = game.with_name("x.ics")
    assert main(["remind", "--now", year, str(game), "-o", str(calendar)]) == (0 if early else 2)
    log = game.with_name("log.csv")
    day = year.replace("-01T", "-02T").replace("-31T", "-30T")
    log.write_text(f"{min(day, year)},1d00:00:00\n{max(day, year)},2d00:00:00\n", encoding="utf-8")
    plot = ["drift", "--log", str(log), "--plot", str(game.with_name("x.png"))]
    assert main(plot) == (2 if early else 0)
    capsys.readouterr()


@pytest.mark.parametrize("text", ["", "BEGIN:VCALENDAR", "X;=:", "BEGIN:VEVENT\nEND:VCALENDAR"])
def test_a_broken_calendar_of_others_is_left_alone(
    game: pathlib.Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    calendar = game.with_name("x.ics")
    calendar.write_text(text, encoding="utf-8")
    assert Ran(capsys, "remind", game, "-o", calendar).code == 4
    assert calendar.read_text(encoding="utf-8") == text


@pytest.mark.skipif(sys.platform != "linux", reason="other systems allow no such names")
def test_a_reminder_of_a_name_that_is_no_text(
    tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = os.fsdecode(os.fsencode(tmp_path) + b"/f\xe4hre.sav")
    pathlib.Path(path).write_bytes(WHOLE)
    calendar = tmp_path / "x.ics"
    assert Ran(capsys, "remind", path, "-o", calendar).code == 0
    assert b"f\\\\udce4hre.sav" in calendar.read_bytes().replace(b"\r\n ", b"")


class TestStripOnlyWhatIsNoBlock:
    @pytest.mark.parametrize(
        "data",
        [
            (memory() + HEALTHY48).replace(b"\n", b"\r\n"),
            memory(32_768)[:8_892],
            WHOLE + patched(HEALTHY48, 40, "65"),
            WHOLE + b"\xff" * 500,
        ],
        ids=["line endings", "a truncated image", "two blocks", "a block inside"],
    )
    def test_what_may_be_sound_is_not_stripped(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str], data: bytes
    ) -> None:
        game.write_bytes(data)
        assert Ran(capsys, "convert", game, "--strip", "--no-backup").code == 3
        assert game.read_bytes() == data

    @pytest.mark.parametrize("tail", [bytes(96), b"\xff" * 100, b"\xff" * 2_000])
    def test_a_blank_tail_of_any_length_may_go(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str], tail: bytes
    ) -> None:
        game.write_bytes(memory() + tail)
        assert "convert --strip" in Ran(capsys, "check", game).out
        assert Ran(capsys, "convert", game, "--strip").code == 0
        assert game.read_bytes() == memory()

    def test_five_identical_blocks_become_one(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        game.write_bytes(memory() + HEALTHY48 * 5)
        assert Ran(capsys, "repair", game).code == 0
        assert game.read_bytes() == WHOLE


class TestInstantsWithoutAStamp:
    def test_a_halted_clock_does_not_move_its_instant_does(
        self, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        clock = tmp_path / "clock"
        clock.write_bytes(patched(REGISTERS5, 4, "41"))
        os.utime(clock, (STAMP - 10 * 86_400, STAMP - 10 * 86_400))
        assert Ran(capsys, "advance", clock, "--saved-at", "file-time").code == 0
        assert clock.stat().st_mtime == STAMP + 86_400  # the run's own present
        assert Ran(capsys, "set", clock, "--halt", "off").code == 0
        assert (
            main(
                ["advance", "--now", "2026-03-12T14:15:00Z", str(clock), "--saved-at", "file-time"]
            )
            == 0
        )
        assert clock.read_bytes() == patched(REGISTERS5, 3, "2d")  # one day, not eleven

    def test_split_and_joined_again_it_keeps_its_instant(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        clock = game.with_name("clock")
        words = ("--to", "registers10", "--drop-stamp")
        assert Ran(capsys, "convert", game, "--split", clock, *words).code == 0
        assert clock.stat().st_mtime == STAMP
        assert Ran(capsys, "convert", game, "--join", clock, "--to", "block48").code == 0
        assert game.stat().st_mtime == STAMP
        assert Ran(capsys, "advance", game, "--saved-at", "file-time").code == 0
        assert game.read_bytes()[2_048:2_068] == patched(HEALTHY48[:20], 12, "2d")

    def test_a_stream_has_no_time(
        self, tmp_path: pathlib.Path, capfdbinary: pytest.CaptureFixture[bytes]
    ) -> None:
        clock = tmp_path / "clock"
        clock.write_bytes(REGISTERS5)
        os.utime(clock, (STAMP, STAMP))
        assert main(["advance", *NOW, str(clock), "--saved-at", "file-time", "-o", "-"]) == 0
        assert b"a stream has no time" in capfdbinary.readouterr().err


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a full device")
class TestALostAccount:
    def spoken(self, *words: object) -> tuple[int, str]:
        with open("/dev/full", "wb") as full:
            done = subprocess.run(
                [sys.executable, "-u", "-m", "rtcsave", *map(str, words)],
                stdout=full,
                stderr=subprocess.PIPE,
                text=True,
                check=False,
            )
        return done.returncode, done.stderr

    def test_says_whether_anything_was_written(self, game: pathlib.Path) -> None:
        os.utime(game, (STAMP, STAMP))
        code, said = self.spoken("advance", game, "--by", "1d", "--dry-run")
        assert (code, "nothing was written, but the account" in said) == (3, True)
        assert game.read_bytes() == WHOLE
        code, said = self.spoken("advance", game, "--by", "1d")
        assert (code, "it was written, but the account" in said) == (3, True)
        assert game.read_bytes() != WHOLE

    def test_does_not_stop_a_batch(self, game: pathlib.Path) -> None:
        os.utime(game, (STAMP, STAMP))
        missing = game.with_name("missing.sav")
        code, said = self.spoken("advance", missing, game, "--by", "1d", "--json")
        assert code == 3
        assert "there is no such file" in said
        assert game.read_bytes() != WHOLE


def test_an_error_of_the_output_names_the_output(
    game: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = Ran(capsys, "advance", game, "-o", game.parent / "gone" / "x.sav")
    assert done.code == 3
    assert f"{game.parent}/gone/x.sav" in done.err.replace("\\", "/")
    done = Ran(capsys, "advance", game, "-o", game.parent)
    assert "name a file to write" in done.err


@pytest.mark.skipif(not POSIX, reason="links need rights on this system")
def test_a_pattern_does_not_reach_a_backup_through_a_link(
    game: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    backup = game.with_name("tide clerk.sav.20260310T141500Z.bak")
    backup.write_bytes(WHOLE)
    game.with_name("older.sav").symlink_to(backup)
    Ran(capsys, "advance", "--by", "1d", "--no-backup", game.with_name("*.sav"))
    assert game.read_bytes() != WHOLE  # the pattern was followed
    assert backup.read_bytes() == WHOLE


def test_events_that_are_kept_are_escaped_too(
    game: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    calendar = game.with_name("x.ics")
    other = game.with_name("other.sav")
    other.write_bytes(WHOLE)
    assert Ran(capsys, "remind", other, "-o", calendar).code == 0
    calendar.write_bytes(calendar.read_bytes().replace(b"Clock of other", b"\x1b[31mClock of"))
    assert b"\x1b" in calendar.read_bytes()
    assert Ran(capsys, "remind", game, "-o", calendar).code == 0
    assert b"\x1b" not in calendar.read_bytes()
    assert calendar.read_bytes().count(b"BEGIN:VEVENT") == 2


class TestKeep:
    def test_the_newest_backups_stay(
        self, game: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        for day in (1, 2, 3, 4):
            old = game.with_name(f"{game.name}.2026010{day}T000000Z.bak")
            old.write_bytes(WHOLE)
        done = Ran(capsys, "advance", "--by", "1d", "--keep", "3", game, "--json")
        assert done.code == 0
        names = sorted(path.name for path in game.parent.glob("*.bak"))
        assert len(names) == 3
        assert names[:2] == [f"{game.name}.2026010{day}T000000Z.bak" for day in (3, 4)]
        assert str(game.parent / names[2]) == done.object["backup"]

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("--keep", "0"), "--keep is how many backups stay"),
            (("--keep", "2", "--no-backup"), "--no-backup makes none"),
            (("--keep", "two"), "'two' is no whole number"),
        ],
    )
    def test_what_cannot_be_kept(
        self,
        game: pathlib.Path,
        capsys: pytest.CaptureFixture[str],
        words: tuple[str, ...],
        said: str,
    ) -> None:
        done = Ran(capsys, "advance", "--by", "1d", *words, game)
        assert done.code == 2
        assert said in done.err
        assert game.read_bytes() == WHOLE
