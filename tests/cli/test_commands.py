"""The commands as their users run them: what they print, what they change, how they exit."""

from __future__ import annotations

import io
import json
import os
import pathlib
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest
from known import HEALTHY44, HEALTHY48, HEALTHY48_BE, REGISTERS5, STAMP, memory, patched

from rtcsave.cli.main import COMMANDS, main

NOW = "2026-03-11T14:15:00Z"  # a day after the healthy stamp
WHOLE = memory() + HEALTHY48


@pytest.fixture
def game(tmp_path: pathlib.Path) -> pathlib.Path:
    path = tmp_path / "tide clerk.sav"
    path.write_bytes(WHOLE)
    return path


class Ran:
    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    @property
    def objects(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.out.splitlines()]

    @property
    def object(self) -> dict[str, Any]:
        (only,) = self.objects
        return only


Run = Callable[..., Ran]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*words: object, now: str | None = NOW) -> Ran:
        stated = [] if now is None else ["--now", now]
        code = main([str(words[0]), *stated, *map(str, words[1:])])
        printed = capsys.readouterr()
        return Ran(code, printed.out, printed.err)

    return call


def backups_of(path: pathlib.Path) -> list[pathlib.Path]:
    return sorted(path.parent.glob(f"{path.name}.*.bak"))


class TestShow:
    def test_date_and_time_first_then_the_way_round_then_registers_then_findings(
        self, run: Run, game: pathlib.Path
    ) -> None:
        done = run("show", game)
        assert done.code == 0
        assert done.out.splitlines() == [
            f"{game}: 2,048 bytes of memory, block48",
            "  saved     2026-03-10 14:15:00 UTC  day 300, 13:40:07",
            "  now       2026-03-11 14:15:00 UTC  day 301, 13:40:07 (1 day later)",
            "  round     [###################.............] day 301 of 512; overflows "
            "2026-10-08 00:34:53 UTC, in 210 days".replace("#", "█")
            .replace(".]", "░]")
            .replace("............", "░░░░░░░░░░░░"),
            "  running   seconds 7, minutes 40, hours 13, day counter 300, halt off, carry off",
            "  latched   seconds 58, minutes 39, hours 13, day counter 300, halt off, carry off",
            "  stamp     1773152100",
            "  findings  none",
        ]

    def test_json_has_the_promised_keys(self, run: Run, game: pathlib.Path) -> None:
        answers = run("show", "--json", game).object
        assert answers == {
            "path": str(game),
            "memory_bytes": 2_048,
            "layout": "block48",
            "clock": {
                "kind": "counter",
                "seconds": 7,
                "minutes": 40,
                "hours": 13,
                "day_counter": 300,
                "halt": False,
                "carry": False,
                "in_range": True,
            },
            "clock_now": {
                "kind": "counter",
                "seconds": 7,
                "minutes": 40,
                "hours": 13,
                "day_counter": 301,
                "halt": False,
                "carry": False,
                "in_range": True,
            },
            "latched": {
                "kind": "counter",
                "seconds": 58,
                "minutes": 39,
                "hours": 13,
                "day_counter": 300,
                "halt": False,
                "carry": False,
                "in_range": True,
            },
            "stamp": STAMP,
            "saved_at": "2026-03-10T14:15:00Z",
            "overflow_at": "2026-10-08T00:34:53Z",
            "findings": [],
        }

    def test_what_nobody_can_know_is_null(self, run: Run, tmp_path: pathlib.Path) -> None:
        image = tmp_path / "image.sav"
        image.write_bytes(memory())
        answers = run("show", "--json", image).object
        assert {key for key, value in answers.items() if value is None} == {
            "layout", "clock", "clock_now", "latched", "stamp", "saved_at", "overflow_at",
        }  # fmt: skip
        unstamped = tmp_path / "unstamped.sav"
        unstamped.write_bytes(HEALTHY48[:40] + bytes(8))
        answers = run("show", "--json", unstamped).object
        assert answers["stamp"] == 0
        assert {key for key, value in answers.items() if value is None} == {
            "clock_now", "saved_at", "overflow_at",
        }  # fmt: skip
        assert [finding["code"] for finding in answers["findings"]] == ["stamp-absent"]

    def test_the_time_of_an_overflow_long_past_counts_from_now(
        self, run: Run, game: pathlib.Path
    ) -> None:
        answers = run("show", "--json", game, now="2030-01-01T00:00:00Z").object
        # due 2026-10-08T00:34:53Z and every 512 days: 2028-03-03, 2029-07-28, 2030-12-22
        assert answers["overflow_at"] == "2030-12-22T00:34:53Z"
        assert answers["clock_now"]["carry"] is True
        assert "overflowed 3 times" in run("show", game, now="2030-01-01T00:00:00Z").out

    def test_a_zone(self, run: Run, game: pathlib.Path) -> None:
        out = run("show", game, "--zone", "Asia/Kathmandu").out
        assert "2026-03-10 20:00:00 +05:45 Asia/Kathmandu" in out
        bad = run("show", game, "--zone", "Asia/Katmando")
        assert bad.code == 2
        assert "did you mean Asia/Kat" in bad.err

    def test_the_evidence(self, run: Run, game: pathlib.Path) -> None:
        done = run("show", game, "--explain")
        assert "block48-be" in done.out
        assert "for: 10 of 10 words fit their registers" in done.out
        answers = run("show", game, "--explain", "--json").object
        assert [candidate["layout"] for candidate in answers["candidates"]] == [
            "block48",
            "block48-be",
        ]

    def test_the_evidence_where_nothing_decides(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(bytes(40) + bytes.fromhex("40400040"))
        done = run("show", game, "--explain")
        assert done.code == 3
        assert "block44-be" in done.out
        assert "nothing in it decides" in done.err
        assert [
            answers["error"] for answers in run("show", game, "--explain", "--json").objects
        ] == ["AmbiguousLayout"]

    def test_a_file_that_only_check_understands_points_there(
        self, run: Run, game: pathlib.Path
    ) -> None:
        game.write_bytes(WHOLE[:-18])  # 30 of 48 bytes are left
        done = run("show", game)
        assert done.code == 3
        assert done.err.rstrip().endswith(
            f"; to see what is wrong and what helps, type: rtcsave check '{game}'"
        )
        assert "block-cut-short" in run("check", game).out
        game.write_bytes(b"\xa5" * 100)  # check has nothing to say of it either
        assert "rtcsave check" not in run("show", game).err

    def test_it_exits_0_whatever_it_finds(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + patched(HEALTHY48, 0, "3f"))
        done = run("show", game)
        assert done.code == 0
        assert "register-past-range" in done.out

    def test_a_halted_clock(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + patched(HEALTHY48, 16, "41"))
        out = run("show", game).out
        assert "halted, it has not moved" in out
        assert "halted, it never overflows" in out
        assert run("show", game, "--json").object["overflow_at"] is None

    def test_a_named_layout_is_taken_at_its_word(self, run: Run, game: pathlib.Path) -> None:
        assert (
            run("show", game, "--layout", "block48-be", "--json").object["layout"] == "block48-be"
        )
        done = run("show", game, "--layout", "blok48")
        assert done.code == 2
        assert "did you mean block48?" in done.err


class TestCheck:
    def test_nothing_found(self, run: Run, game: pathlib.Path) -> None:
        done = run("check", game)
        assert done.code == 0
        assert done.out.splitlines()[1] == "  findings  none"

    def test_findings_with_remedy_and_place(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + patched(HEALTHY48, 8, "1d"))
        done = run("check", game)
        assert done.code == 1
        assert "warning: register-past-range at byte 2056 (808h)" in done.out
        assert "found 29, expected 0 to 23" in done.out
        assert "'rtcsave repair' turns it into the time that it says" in done.out
        (finding,) = run("check", game, "--json").object["findings"]
        assert set(finding) == {
            "code", "severity", "message", "offset", "found", "expected", "remedy", "repair",
        }  # fmt: skip
        assert finding["offset"] == 2_056

    def test_a_note_is_a_finding(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + patched(HEALTHY48, 16, "81"))
        assert run("check", game).code == 1

    def test_a_file_that_cannot_be_loaded(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(WHOLE[: 2_048 + 29])
        done = run("check", game)
        assert done.code == 1
        assert "block-cut-short" in done.out
        answers = run("check", game, "--json").object
        assert answers["error"] == "BlockCutShort"
        assert answers["layout"] is None

    def test_a_file_that_nothing_is_recognised_in(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(b"\xa5" * 100)
        done = run("check", game)
        assert done.code == 3
        assert done.err.startswith(f"rtcsave: {game}: no save has this length, found 100 bytes")
        assert run("check", "--json", game).object["error"] == "UnknownLength"

    def test_the_list_of_all_findings(self, run: Run) -> None:
        done = run("check", "--list")
        assert done.code == 0
        assert "stamp-upper-half" in done.out
        kinds = run("check", "--list", "--json").objects
        assert {"code", "severity", "title", "remedy", "repair"} == set(kinds[0])
        assert run("check").code == 2


class TestRepair:
    def test_it_repairs_and_keeps_a_backup(self, run: Run, game: pathlib.Path) -> None:
        odd = memory() + patched(patched(HEALTHY48, 0, "3d00000004000000 1d"), 40, "a0de19d89c01")
        game.write_bytes(odd)
        done = run("repair", game)
        assert done.code == 0
        assert game.read_bytes() == memory() + patched(HEALTHY48, 0, "0100000005000000 05000000 2d")
        (backup,) = backups_of(game)
        assert backup.read_bytes() == odd
        assert f"backup   {backup}" in done.out
        again = run("repair", game)
        assert again.code == 0
        assert "nothing: no byte changes" in again.out
        assert backups_of(game) == [backup]

    def test_a_dry_run_shows_each_byte_and_changes_none(self, run: Run, game: pathlib.Path) -> None:
        odd = memory() + patched(HEALTHY48, 8, "1d")
        game.write_bytes(odd)
        done = run("repair", game, "--dry-run")
        assert done.code == 0
        assert "2056 (00808h)  1d -> 05  running_hours" in done.out
        assert "2060 (0080Ch)  2c -> 2d  running_day_low" in done.out
        assert game.read_bytes() == odd
        assert list(game.parent.iterdir()) == [game]
        answers = run("repair", game, "--dry-run", "--json").object
        assert answers["steps"][0]["changes"] == [
            {"offset": 2_056, "old": "1d", "new": "05", "field": "running_hours"},
            {"offset": 2_060, "old": "2c", "new": "2d", "field": "running_day_low"},
        ]
        assert (answers["written"], answers["dry_run"]) == (False, True)

    def test_what_it_needs_is_said_and_findings_that_remain_exit_1(
        self, run: Run, game: pathlib.Path
    ) -> None:
        game.write_bytes(memory() + HEALTHY48[:40] + bytes(8))
        done = run("repair", game)
        assert done.code == 1
        assert "stamp-absent" in done.out
        assert "give --saved-at INSTANT" in done.out
        assert backups_of(game) == []
        done = run("repair", game, "--saved-at", "2026-03-10T14:15:00Z")
        assert done.code == 0
        assert game.read_bytes() == WHOLE

    def test_the_files_own_time_is_taken_when_asked(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + HEALTHY48[:40] + bytes(8))
        os.utime(game, (STAMP, STAMP))
        assert run("repair", game, "--saved-at", "file-time").code == 0
        assert game.read_bytes() == WHOLE

    def test_zero_and_the_choice_of_steps(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + patched(patched(HEALTHY48, 0, "3d"), 20, "3c"))
        assert run("repair", game, "--past-range", "zero", "--skip", "latched-past-range").code == 0
        assert game.read_bytes() == memory() + patched(patched(HEALTHY48, 0, "00"), 20, "3c")
        assert run("repair", game, "--only", "latched-past-range").code == 0
        bad = run("repair", game, "--also", "latched-lster")
        assert bad.code == 2
        assert "did you mean latched-later" in bad.err

    def test_a_cut_block_only_when_named(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(WHOLE[: 2_048 + 29])
        done = run("repair", game)
        assert done.code == 1
        assert "--also block-cut-short" in done.out
        assert "nothing was written" in done.err
        assert game.read_bytes() == WHOLE[: 2_048 + 29]
        assert [step["code"] for step in run("repair", game, "--json").object["offered"]] == [
            "block-cut-short"
        ]
        done = run("repair", game, "--also", "block-cut-short", "--saved-at", "@1773152100")
        assert done.code == 0
        assert game.read_bytes() == memory() + HEALTHY48[:20] * 2 + HEALTHY48[40:]
        assert backups_of(game)[0].read_bytes() == WHOLE[: 2_048 + 29]


class TestAdvance:
    def test_to_now_is_the_short_form(self, run: Run, game: pathlib.Path) -> None:
        done = run("advance", game)
        assert done.code == 0
        assert game.read_bytes() == memory() + patched(patched(HEALTHY48, 12, "2d"), 40, "e478b169")
        assert "advanced by  1 day, from 2026-03-10 14:15:00 UTC (the stamp)" in done.out
        assert "300d13:40:07 -> 301d13:40:07" in done.out

    def test_to_an_instant_and_by_a_duration(self, run: Run, game: pathlib.Path) -> None:
        assert run("advance", game, "--to", "2026-03-10T15:15:00Z").code == 0
        assert run("advance", game, "--by", "PT1M").code == 0
        assert run("advance", game, "--by", "60s").code == 0
        # 13:40:07 and 1:02:00 is 14:42:07; the stamp 3720 s on is 69B035ECh
        assert game.read_bytes() == memory() + patched(
            patched(HEALTHY48, 4, "2a000000 0e"), 40, "ec35b069"
        )

    @pytest.mark.parametrize("words", [("--by", "-5m"), ("--by=-5m",), ("--by", "-PT5M")])
    def test_backward_is_refused(self, run: Run, game: pathlib.Path, words: tuple[str]) -> None:
        done = run("advance", game, *words)
        assert done.code == 2
        assert "a clock cannot go back" in done.err
        assert game.read_bytes() == WHOLE

    def test_a_stamp_that_is_unusable_is_refused_with_the_ways_out(
        self, run: Run, game: pathlib.Path
    ) -> None:
        game.write_bytes(memory() + HEALTHY48[:40] + bytes(8))
        done = run("advance", game)
        assert done.code == 4
        assert "the stamp is absent" in done.err
        assert "--saved-at" in done.err
        assert "--by" in done.err
        done = run("advance", game, "--saved-at", "2026-03-10T14:15:00Z")
        assert done.code == 0
        assert "from 2026-03-10 14:15:00 UTC (--saved-at) to" in done.out

    def test_overflowing_is_said(self, run: Run, game: pathlib.Path) -> None:
        done = run("advance", game, "--to", "2027-01-01T00:00:00Z")
        assert done.code == 0
        assert "the counter overflowed 1 time: carry is set" in done.out
        assert run("advance", game, "--by", "0s", "--json").object["clock"]["carry"] is True

    def test_a_local_time_is_refused(self, run: Run, game: pathlib.Path) -> None:
        done = run("advance", game, "--to", "2026-03-10T15:15:00")
        assert done.code == 2
        assert "add Z for UTC or an offset" in done.err

    def test_an_image_without_a_clock(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory())
        done = run("advance", game)
        assert done.code == 3
        assert "has no clock block" in done.err


class TestSet:
    def test_registers_flags_and_stamp(self, run: Run, game: pathlib.Path) -> None:
        done = run(
            "set", game, "--time", "12d03:04:05", "--halt", "on", "--carry", "on", "--stamp", "now"
        )
        assert done.code == 0
        assert game.read_bytes() == memory() + patched(
            patched(HEALTHY48, 0, "05000000 04000000 03000000 0c000000 c0"), 40, "e478b169"
        )
        assert run("set", game, "--halt", "off", "--carry=off", "--stamp", "none").code == 0
        assert game.read_bytes() == memory() + patched(
            patched(HEALTHY48, 0, "05000000 04000000 03000000 0c000000 00"), 40, "00" * 8
        )

    def test_a_time_alone_warns_of_the_stamp(self, run: Run, game: pathlib.Path) -> None:
        out = run("set", game, "--time", "12d03:04:05").out
        assert (
            "an emulator that advances from it adds the time since 2026-03-10 14:15:00 UTC" in out
        )

    @pytest.mark.parametrize(
        ("words", "hint"),
        [
            ((), "nothing to set"),
            (("--time", "3:04:05"), "this is not a clock's reading"),
            (("--time", "512d00:00:00"), "day_counter does not fit its 9 bits"),
            (("--time", "1d24:00:00"), "hours out of range"),
            (("--halt", "onn"), "did you mean on?"),
        ],
    )
    def test_wrong_values(
        self, run: Run, game: pathlib.Path, words: tuple[str, ...], hint: str
    ) -> None:
        done = run("set", game, *words)
        assert done.code == 2
        assert hint in done.err
        assert game.read_bytes() == WHOLE


class TestConvert:
    @pytest.mark.parametrize(
        ("name", "block"), [("block44", HEALTHY44), ("block48-be", HEALTHY48_BE)]
    )
    def test_to_another_layout_and_back(
        self, run: Run, game: pathlib.Path, name: str, block: bytes
    ) -> None:
        assert run("convert", game, "--to", name).code == 0
        assert game.read_bytes() == memory() + block
        assert run("convert", game, "--to", "block48").code == 0
        assert game.read_bytes() == WHOLE

    def test_taking_the_block_off(self, run: Run, game: pathlib.Path) -> None:
        out = game.with_name("image.sav")
        assert run("convert", game, "--strip", "-o", out).code == 0
        assert out.read_bytes() == memory()
        assert game.read_bytes() == WHOLE
        assert run("convert", out, "--strip").code == 3

    def test_a_stamp_that_does_not_fit(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(memory() + patched(HEALTHY48, 40, "0000000001000000"))
        done = run("convert", game, "--to", "block44")
        assert done.code == 4
        assert "--drop-stamp" in done.err
        assert run("convert", game, "--to", "block44", "--drop-stamp").code == 0
        assert game.read_bytes() == memory() + HEALTHY44[:40] + bytes(4)

    def test_bare_registers_and_memory(self, run: Run, game: pathlib.Path) -> None:
        done = run("convert", game, "--to", "registers5")
        assert done.code == 4
        assert "--split" in done.err
        standalone = game.with_name("standalone")
        standalone.write_bytes(HEALTHY48)
        assert run("convert", standalone, "--to", "registers5", "--drop-stamp").code == 4
        done = run("convert", standalone, "--to", "registers5", "--drop-stamp", "--drop-latched")
        assert done.code == 0
        assert standalone.read_bytes() == REGISTERS5
        assert "the latched registers: layout registers5 has none" in done.out

    def test_exactly_one_way(self, run: Run, game: pathlib.Path) -> None:
        assert run("convert", game).code == 2
        assert run("convert", game, "--strip", "--to", "block44").code == 2
        assert run("convert", game, "--strip", "--drop-stamp").code == 2


class TestRestore:
    def test_the_newest_comes_back(self, run: Run, game: pathlib.Path) -> None:
        run("advance", game)
        advanced = game.read_bytes()
        assert run("restore", game, "--dry-run").code == 0
        assert game.read_bytes() == advanced
        done = run("restore", game)
        assert done.code == 0
        assert game.read_bytes() == WHOLE
        replaced = [path for path in backups_of(game) if path.name.endswith(".replaced.bak")]
        assert [path.read_bytes() for path in replaced] == [advanced]
        done = run("restore", game)
        assert done.code == 3
        assert "the file is its oldest backup already" in done.err
        assert run("restore", game, "--pick", replaced[0].name).code == 0
        assert game.read_bytes() == advanced

    def test_the_list(self, run: Run, game: pathlib.Path) -> None:
        assert "no backups beside it" in run("restore", game, "--list").out
        run("advance", game)
        (backup,) = backups_of(game)
        assert backup.name in run("restore", game, "--list").out
        assert run("restore", game, "--list", "--json").object["path"] == str(backup)

    def test_to_another_file(self, run: Run, game: pathlib.Path) -> None:
        run("advance", game)
        other = game.with_name("old.sav")
        assert run("restore", game, "-o", other).code == 0
        assert other.read_bytes() == WHOLE
        assert run("restore", game, "-o", other).code == 0  # the same bytes: nothing is lost
        other.write_bytes(b"precious")
        assert run("restore", game, "-o", other).code == 4

    def test_a_dry_run_names_the_fields(self, run: Run, game: pathlib.Path) -> None:
        run("advance", game)
        out = run("restore", game, "--dry-run").out
        assert "stamp" in out
        assert "memory" not in out

    def test_what_else_there_is_is_named(self, run: Run, game: pathlib.Path) -> None:
        run("advance", game, "--by", "1m")
        run("advance", game, "--by", "1m")
        newest = run("restore", game, "--json").object["restored"]
        out = run("restore", game, "--pick", os.path.basename(newest)).out
        assert "nothing: the file is the same" in out
        assert "--pick" in out
        assert "the same as the present file" in run("restore", game, "--list").out

    def test_nothing_to_restore(self, run: Run, game: pathlib.Path) -> None:
        assert run("restore", game).code == 3
        assert run("restore", "-").code == 2


def test_layouts(run: Run) -> None:
    out = run("layouts").out
    assert "block48-be   48     counter" in out
    assert [layout["name"] for layout in run("layouts", "--json").objects][:2] == [
        "block48",
        "block44",
    ]


class TestSeveralFiles:
    def test_one_bad_file_does_not_stop_the_rest(self, run: Run, game: pathlib.Path) -> None:
        bad = game.with_name("bad.sav")
        bad.write_bytes(b"\xa5" * 100)
        done = run("advance", bad, game)
        assert done.code == 3
        assert game.read_bytes() != WHOLE
        assert done.err.count("rtcsave: ") == 1
        objects = run("check", "--json", bad, game).objects
        assert [answers["path"] for answers in objects] == [str(bad), str(game)]

    def test_the_exit_code_is_the_highest(self, run: Run, game: pathlib.Path) -> None:
        odd = game.with_name("odd.sav")
        odd.write_bytes(memory() + patched(HEALTHY48, 0, "3f"))
        assert run("check", game, odd).code == 1
        assert run("check", odd, game).code == 1
        unstamped = game.with_name("unstamped.sav")
        unstamped.write_bytes(HEALTHY48[:40] + bytes(8))
        assert run("advance", unstamped, game.with_name("none.sav")).code == 4

    def test_a_pattern_that_no_shell_expanded(self, run: Run, game: pathlib.Path) -> None:
        game.with_name("second.sav").write_bytes(WHOLE)
        assert len(run("show", "--json", game.with_name("*.sav")).objects) == 2
        done = run("show", game.with_name("*.none"))
        assert done.code == 3
        assert "there is no such file" in done.err

    def test_a_name_that_exists_is_no_pattern(self, run: Run, game: pathlib.Path) -> None:
        odd = game.with_name("copy [1].sav")
        odd.write_bytes(WHOLE)
        game.with_name("copy 1.sav").write_bytes(WHOLE)
        assert [answers["path"] for answers in run("show", "--json", odd).objects] == [str(odd)]

    def test_a_file_named_twice_is_done_once(self, run: Run, game: pathlib.Path) -> None:
        again = game.parent / "." / game.name
        assert run("advance", "--by", "1h", game, f"{game.parent}/./{game.name}", again).code == 0
        assert game.read_bytes()[2_048 + 8] == 14

    @pytest.mark.parametrize(
        "words",
        [("set", "--carry", "on"), ("convert", "--to", "block44"), ("restore",)],
    )
    def test_a_command_for_one_file_refuses_a_pattern_of_several(
        self, run: Run, game: pathlib.Path, words: tuple[str, ...]
    ) -> None:
        other = game.with_name("second.sav")
        other.write_bytes(WHOLE)
        done = run(words[0], game.with_name("*.sav"), *words[1:])
        assert done.code == 2
        assert "this command takes one file" in done.err
        assert game.read_bytes() == other.read_bytes() == WHOLE

    def test_a_pattern_of_several_has_no_one_output(self, run: Run, game: pathlib.Path) -> None:
        game.with_name("second.sav").write_bytes(WHOLE)
        done = run("advance", game.with_name("*.sav"), "-o", game.with_name("out"))
        assert done.code == 2

    def test_one_output_for_one_file(self, run: Run, game: pathlib.Path) -> None:
        done = run("advance", game, game.with_name("b.sav"), "-o", game.with_name("out"))
        assert done.code == 2
        assert "-o takes the result of one file" in done.err


class TestOutputs:
    def test_a_block_that_reads_in_two_ways_is_said_to(self, run: Run, game: pathlib.Path) -> None:
        game.write_bytes(game.read_bytes()[:2_048])
        # 69AED968h, a date in either byte order after words that are all zero
        done = run("convert", game, "--attach", "block44", "--now", "2026-03-09T14:30:00Z")
        assert done.code == 0
        assert "it reads with --layout block44 only" in done.out
        seen = run("check", game, "--now", "2026-03-09T15:00:00Z")
        assert "reads differently in several layouts" in seen.out + seen.err
        assert "block-cut-short" not in seen.out

    def test_a_name_too_long_for_a_backup_is_refused_also_dry(
        self, run: Run, game: pathlib.Path
    ) -> None:
        long = game.with_name("n" * 240)
        game.rename(long)
        for how in (["--dry-run"], []):
            done = run("set", long, "--halt", "on", *how)
            assert done.code == 3
            assert "no backup can be made beside the file: the name is too long" in done.err
        assert run("set", long, "--halt", "on", "--dry-run", "--no-backup").code == 0

    def test_another_existing_file_is_refused_also_dry(self, run: Run, game: pathlib.Path) -> None:
        other = game.with_name("other.sav")
        other.write_bytes(b"precious")
        for extra in ([], ["--dry-run"]):
            assert run("advance", game, "-o", other, *extra).code == 4
        assert other.read_bytes() == b"precious"
        assert run("advance", game, "-o", other, "--overwrite").code == 0
        assert backups_of(other)[0].read_bytes() == b"precious"
        assert game.read_bytes() == WHOLE

    @pytest.mark.parametrize("extra", [[], ["--dry-run"]])
    def test_a_folder_that_is_not_there(
        self, run: Run, game: pathlib.Path, extra: list[str]
    ) -> None:
        done = run("advance", game, "-o", game.parent / "none" / "out.sav", *extra)
        assert done.code == 3
        assert "there is no such folder" in done.err

    def test_no_backup(self, run: Run, game: pathlib.Path) -> None:
        assert run("advance", game, "--no-backup").code == 0
        assert list(game.parent.iterdir()) == [game]

    def test_a_file_that_changed_meanwhile(
        self, run: Run, game: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from rtcsave.cli import advance

        def meanwhile(*args: Any, **kwargs: Any) -> None:
            game.write_bytes(memory() + HEALTHY44)
            finish_save(*args, **kwargs)

        finish_save = advance.finish_save
        monkeypatch.setattr(advance, "finish_save", meanwhile)
        done = run("advance", game)
        assert done.code == 4
        assert "has changed since it was read" in done.err
        assert game.read_bytes() == memory() + HEALTHY44

    def test_standard_streams(self, game: pathlib.Path) -> None:
        done = subprocess.run(
            [sys.executable, "-m", "rtcsave", "advance", "--by", "1m", "-", "-o", "-"],
            input=WHOLE,
            capture_output=True,
            check=True,
        )
        assert done.stdout == memory() + patched(patched(HEALTHY48, 4, "29"), 40, "a0")
        assert b"advanced by  1 min" in done.stderr

    def test_streams_that_cannot_be(
        self, run: Run, game: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(WHOLE)))
        assert run("advance", "-").code == 2
        assert run("advance", game, "-o", "-", "--json").code == 2
        assert run("show", "--json", "-").object["path"] == "-"
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(HEALTHY48[:40] + bytes(8))))
        done = run("repair", "-", "-o", game.with_name("x"), "--saved-at", "file-time")
        assert done.code == 2
        assert "there is no file whose time" in done.err
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(bytes(1_048_577))))
        assert run("show", "-").code == 3


class TestMistakes:
    @pytest.mark.parametrize(
        ("words", "hint"),
        [
            (["shw", "x"], "did you mean show?"),
            (["frobnicate"], "the commands are show, check"),
            (["show", "--jsn", "x"], "did you mean --json?"),
            (["show"], "FILE"),
            (["restore", "a", "b"], "one argument too many: 'b'"),
            (["--json", "show", "x"], "options stand after the command"),
            (["--versoin"], "did you mean --version?"),
            (["forecast", "x", "--rate-ppm", "fast"], "'fast' is no number"),
            (["remind", "x", "-o", "y.ics", "--days-before", "1.5"], "'1.5' is no whole number"),
            (["show", "x", "--now", "2026-03-10"], "give the time of day and the zone too"),
        ],
    )
    def test_each_gets_the_nearest_right_one(
        self, capsys: pytest.CaptureFixture[str], words: list[str], hint: str
    ) -> None:
        assert main(words) == 2
        printed = capsys.readouterr()
        assert hint in printed.err
        assert printed.out == "" or "--json" in words

    def test_a_path_without_a_command(
        self, capsys: pytest.CaptureFixture[str], game: pathlib.Path
    ) -> None:
        assert main([str(game)]) == 2
        assert f"did you mean: rtcsave show {game}" in capsys.readouterr().err

    def test_nothing_at_all(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main([]) == 2
        assert "usage: rtcsave COMMAND" in capsys.readouterr().err


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_examples(
    capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert main([command, "--help"]) == 0
    out = capsys.readouterr().out
    assert f"usage: rtcsave {command}" in out
    assert "examples:\n  rtcsave" in out
    assert main(["help", command]) == 0
    assert capsys.readouterr().out == out


def test_the_overview_and_the_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    out = capsys.readouterr().out
    assert all(f"  {command}" in out for command in COMMANDS)
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("rtcsave 0.")


class TestBytes:
    """`show --bytes`: every byte of a block, with what it means."""

    def test_each_byte_once_with_what_it_means(
        self, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "game.sav"
        path.write_bytes(memory() + HEALTHY48)
        assert main(["show", str(path), "--bytes"]) == 0
        out = capsys.readouterr().out
        for line in (
            "the clock block: 48 bytes, after 2,048 bytes of memory, layout block48",
            "in a number of several bytes the lowest comes first",
            "2048    07 00 00 00  running_seconds   7      seconds: 7",
            "2060    2c 00 00 00  running_day_low   44     day counter, bits 0 to 7: 44 (in all 300)",
            "2064    01 00 00 00  running_day_high  1      day counter, bit 8: 1 (in all 300), halt off",
            "2088    64 27 b0 69 00 00 00 00  stamp  1773152100  written at 2026-03-10 14:15:00 UTC",
        ):
            assert line in out
        headings = [
            out.index(f"\n{part}:") for part in ("running registers", "latched registers", "stamp")
        ]
        assert headings == sorted(headings)
        assert main(["show", str(path), "--bytes", "--json"]) == 0
        words = json.loads(capsys.readouterr().out)["bytes"]
        assert bytes.fromhex("".join(word["bytes"] for word in words)) == HEALTHY48
        assert [word["offset"] for word in words][:3] == [2048, 2052, 2056]

    @pytest.mark.parametrize(
        ("block", "line"),
        [
            (patched(HEALTHY48, 0, "3d"), "seconds: 61, out of range"),
            (patched(HEALTHY48, 1, "ff"), "seconds: 7, stray bits FF00h, which mean nothing"),
            (HEALTHY48[:40] + bytes(8), "absent: nobody knows when the block was written"),
            (HEALTHY48[:40] + b"\1" + bytes(7), "no usable date"),
            (patched(HEALTHY48, 16, "c1"), "halt on, carry on"),
        ],
    )
    def test_what_is_odd_is_said(
        self, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str], block: bytes, line: str
    ) -> None:
        path = tmp_path / "game.sav"
        path.write_bytes(memory() + block)
        assert main(["show", str(path), "--bytes", "--layout", "block48"]) == 0
        assert line in capsys.readouterr().out

    def test_an_image_alone_has_none(
        self, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        path = tmp_path / "game.sav"
        path.write_bytes(memory())
        assert main(["show", str(path), "--bytes"]) == 0
        assert "there is no clock block" in capsys.readouterr().out
