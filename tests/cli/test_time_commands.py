"""`elapsed`, `drift`, `correct`, `forecast`, `remind`, `diff`, `verify` as their users run them."""

from __future__ import annotations

import builtins
import json
import pathlib
import random
from typing import Any

import pytest
from known import HEALTHY48, STAMP, memory, patched

from rtcsave import dumps, loads
from rtcsave.cli.main import main

NOW = "2026-03-11T14:15:00Z"
DAY = 86_400
WHOLE = memory() + HEALTHY48


def unfolded_text(calendar: pathlib.Path) -> str:
    # RFC 5545 sections 3.1 and 3.3.11: lines are folded, commas and semicolons escaped
    text = calendar.read_bytes().decode("utf-8").replace("\r\n ", "")
    return text.replace("\\,", ",").replace("\\;", ";")


class Bench:
    def __init__(self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder = folder
        self.capsys = capsys

    def put(self, name: str, data: bytes) -> pathlib.Path:
        path = self.folder / name
        path.write_bytes(data)
        return path

    def later(self, name: str, seconds: int, counted: int | None = None) -> pathlib.Path:
        save = loads(WHOLE)
        clock = save.clock_block.running.advance(seconds if counted is None else counted)
        after = save.with_clock(clock).with_stamp(STAMP + seconds)
        return self.put(name, after.memory + after.clock_block.raw)

    def run(self, command: str, *words: object) -> tuple[int, str, str]:
        code = main([command, "--now", NOW, *map(str, words)])
        printed = self.capsys.readouterr()
        return code, printed.out, printed.err

    def json(self, command: str, *words: object) -> dict[str, Any]:
        answers = json.loads(self.run(command, "--json", *words)[1])
        assert isinstance(answers, dict)
        return answers


@pytest.fixture
def bench(tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> Bench:
    return Bench(tmp_path, capsys)


def test_elapsed(bench: Bench) -> None:
    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", 3 * DAY)
    code, out, _ = bench.run("elapsed", a, b)
    assert code == 0
    assert "elapsed    3 days ± 1 s (259200 s)" in out
    answers = bench.json("elapsed", a, b)
    assert (answers["elapsed_s"], answers["cause"], answers["agreed"]) == (
        3 * DAY,
        "untouched",
        True,
    )
    assert answers["explanations"][0]["weight"] > 0.95
    stopped = bench.later("c.sav", 3 * DAY, DAY)
    assert bench.run("elapsed", a, stopped)[0] == 1
    unstamped = bench.put("d.sav", memory() + HEALTHY48[:40] + bytes(8))
    code, out, _ = bench.run("elapsed", a, unstamped)
    assert code == 1
    assert "possible   0 s (0 s)" in out
    assert bench.json("elapsed", a, unstamped)["elapsed_s"] is None
    assert bench.run("elapsed", a, bench.folder / "none.sav")[0] == 3
    image = bench.put("image.sav", memory())
    code, _, err = bench.run("elapsed", image, a)
    assert code == 3
    assert err.startswith(f"rtcsave: {image}: the save has no clock block")


def test_drift_from_saves(bench: Bench) -> None:
    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", 100 * DAY, 100 * DAY + 86)
    code, out, _ = bench.run("drift", a, b, "--temperature", "12")
    assert code == 0
    assert "+9.954 ppm ± 1.389" in out
    assert "give or take the slack, and nobody set the clock" in out
    assert "+9.954 ppm ± 0.231" in bench.run("drift", a, b, "--slack", "0s")[1]
    assert bench.run("drift", a, b, "--slack", "-1s")[0] == 2
    assert "+0.860 s a day" in out
    assert "at 12 °C a clock crystal shifts by -5.1 ppm" in out
    assert "only dumps of the cartridge itself tell its rate" in out
    answers = bench.json("drift", a, b)
    assert answers["certain"] is True
    assert answers["n_samples"] == 2
    assert answers["rate_ppm"] == pytest.approx(9.954, abs=0.001)
    assert bench.run("drift", a)[0] == 2
    assert bench.run("drift")[0] == 2


def test_drift_from_a_log(bench: Bench) -> None:
    log = bench.folder / "log.csv"
    log.write_text(
        "instant,reading\n2026-01-01T12:00:00Z,13:52\n2026-02-01T12:00:00Z,13:52\n"
        "2026-06-01T12:00:00Z,13:54\n2026-07-01T12:00:00Z,18:02\n2026-09-01T12:00:00Z,18:03\n",
        encoding="utf-8",
    )
    code, out, _ = bench.run("drift", "--log", log)
    assert code == 0
    assert "segments" in out
    assert len(bench.json("drift", "--log", log)["segments"]) == 2
    log.write_text("nonsense\n", encoding="utf-8")
    code, _, err = bench.run("drift", "--log", log)
    assert code == 2
    assert "line 1" in err


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_drift_drawn(bench: Bench, kind: str) -> None:
    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", 100 * DAY, 100 * DAY + 86)
    picture = bench.folder / f"drift.{kind}"
    assert bench.run("drift", a, b, "--plot", picture)[0] == 0
    begin = b"\x89PNG" if kind == "png" else b"<?xml"
    assert picture.read_bytes().startswith(begin)
    picture.write_bytes(b"another picture")
    assert bench.run("drift", a, b, "--plot", picture)[0] == 4
    assert bench.run("drift", a, b, "--plot", bench.folder / "x.bmp")[0] == 2


def test_drift_drawn_without_the_library(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "matplotlib":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", DAY)
    monkeypatch.setattr(builtins, "__import__", without)
    code, _, err = bench.run("drift", a, b, "--plot", bench.folder / "x.png")
    assert code == 3
    assert "rtcsave[plot]" in err


class TestCorrect:
    def test_in_the_players_words(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        code, out, _ = bench.run(
            "correct", path, "--shown", "13:52", "--true", "14:05", "--dry-run"
        )
        assert code == 0
        assert "+13 min: the shortest that turns 13:52 into 14:05" in out
        assert path.read_bytes() == WHOLE
        assert bench.run("correct", path, "--shown", "13:52", "--true", "14:05")[0] == 0
        assert path.read_bytes() == memory() + patched(HEALTHY48, 4, "35")
        assert len(list(bench.folder.glob("*.bak"))) == 1

    @pytest.mark.parametrize("words", [("--by", "-90s"), ("--by=-90s",), ("--by", "-PT90S")])
    def test_by_a_duration_back(self, bench: Bench, words: tuple[str, ...]) -> None:
        path = bench.put("a.sav", WHOLE)
        assert bench.run("correct", path, *words)[0] == 0
        assert path.read_bytes() == memory() + patched(HEALTHY48, 0, "2500000026")

    def test_from_an_earlier_save(self, bench: Bench) -> None:
        earlier = bench.put("earlier.sav", WHOLE)
        path = bench.later("stopped.sav", 10 * DAY, 3 * DAY)
        assert bench.run("correct", path, "--earlier", earlier)[0] == 0
        assert path.read_bytes() == bench.later("x", 10 * DAY).read_bytes()
        assert bench.run("correct", path, "--earlier", earlier, "--to", "@1774100000")[0] == 0

    def test_a_known_rate(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        answers = bench.json(
            "correct", path, "--rate-ppm", "18.2", "--from", f"@{STAMP - 100 * DAY}", "--dry-run"
        )
        assert answers["by_s"] == -157
        assert answers["saved_at"] == "2026-03-10T14:15:00Z"
        answers = bench.json(
            "correct", path, "--rate-ppm", "-18.2", "--from", f"@{STAMP - 100 * DAY}", "--dry-run"
        )
        assert answers["by_s"] == 157

    def test_another_zone(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        code, out, _ = bench.run("correct", path, "--rezone", "Europe/London", "Asia/Kathmandu")
        assert code == 0
        assert "+5 h 45 min: the offset of Asia/Kathmandu less that of Europe/London" in out
        assert bench.run("correct", path, "--rezone", "Europe/London", "Asia/Katmando")[0] == 2

    @pytest.mark.parametrize(
        ("zone", "meaning"),
        [
            # IANA tz: EST is a fixed offset; in Etc/GMT+9 the sign is that of POSIX, west positive
            ("EST", "EST is UTC-05:00 all year, without summer time; with it: America/New_York"),
            ("MST", "MST is UTC-07:00 all year, without summer time; with it: America/Denver"),
            ("Etc/GMT+9", "Etc/GMT+9 is UTC-09:00 all year: the sign in its name is reversed"),
        ],
    )
    def test_a_zone_whose_name_misleads_is_explained(
        self, bench: Bench, zone: str, meaning: str
    ) -> None:
        path = bench.put("a.sav", WHOLE)
        code, out, _ = bench.run("correct", path, "--rezone", "UTC", zone, "--dry-run")
        assert code == 0
        assert meaning in out
        out = bench.run("correct", path, "--rezone", "UTC", "America/New_York", "--dry-run")[1]
        assert "all year" not in out

    @pytest.mark.parametrize(
        ("offset", "advice"),
        [
            ("UTC+9", "write Etc/GMT-9 for UTC plus 9 h all year (its sign is reversed), or"),
            ("UTC-3", "write Etc/GMT+3 for UTC minus 3 h all year (its sign is reversed), or"),
            ("gmt+14", "write Etc/GMT-14 for UTC plus 14 h"),
            ("UTC-13", "not a zone, found 'UTC-13'; name the zone of a place, as in Europe/Lisbon"),
            ("UTC+5:30", "found 'UTC+5:30'; name the zone of a place, as in Europe/Lisbon"),
            ("UTC+0", "found 'UTC+0'; write UTC"),
        ],
    )
    def test_an_offset_in_place_of_a_zone(self, bench: Bench, offset: str, advice: str) -> None:
        path = bench.put("a.sav", WHOLE)
        code, _, err = bench.run("correct", path, "--rezone", "UTC", offset)
        assert code == 2
        assert advice in err
        assert path.read_bytes() == WHOLE

    def test_a_negative_shift_has_its_sign_before_the_whole(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        out = bench.run("correct", path, "--by", "-25h", "--dry-run")[1]
        assert "shift    -(1 day 1 h): as given" in out

    def test_past_the_end(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        assert bench.run("correct", path, "--by", "300d")[0] == 4
        assert path.read_bytes() == WHOLE
        code, out, _ = bench.run("correct", path, "--by", "300d", "--allow-overflow")
        assert code == 0
        assert "carry is set" in out

    @pytest.mark.parametrize(
        "words",
        [
            (),
            ("--shown", "13:52"),
            ("--by", "1h", "--rezone", "UTC", "UTC"),
            ("--rate-ppm", "5"),
            ("--by", "1h", "--to", "now"),
            ("--by", "1 fortnight"),
        ],
    )
    def test_exactly_one_way(self, bench: Bench, words: tuple[str, ...]) -> None:
        assert bench.run("correct", bench.put("a.sav", WHOLE), *words)[0] == 2


class TestForecast:
    def test_the_date_and_the_days(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        code, out, _ = bench.run("forecast", path, "--zone", "Asia/Kathmandu")
        assert code == 0
        assert "overflows  2026-10-08 00:34:53 UTC" in out
        assert "2026-10-08 06:19:53 +05:45 Asia/Kathmandu" in out
        assert "days left  210" in out
        answers = bench.json("forecast", path)
        assert answers["overflow_at"] == "2026-10-08T00:34:53Z"
        assert answers["days_left"] == 210

    def test_with_a_rate_and_a_cell(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        words = ("--rate-ppm", "-100", "--bound-ppm", "10", "--cell", "CR2032", "--fitted", "@0")
        code, out, _ = bench.run("forecast", path, *words)
        assert code == 0
        assert "earliest" in out
        assert "an assumption" in out
        assert "from memory, unconfirmed" in out
        assert "Never solder to the bare cell" in out
        assert "local rules for disposal" in out
        # 225 mAh at 2.5 and at 0.5 uA, with 1 % a year lost: 9.32 and 33.93 years from 1970
        assert "overdue since  1979-04" in out
        assert "lasts until    2003-11 at the most" in out
        out = bench.run("forecast", path, "--cell", "48 mAh", "--current-ua", "0.5")[1]
        assert "0.5 µA, measured" in out

    def test_halted_and_unstamped(self, bench: Bench) -> None:
        halted = bench.put("h.sav", memory() + patched(HEALTHY48, 16, "41"))
        unstamped = bench.put("u.sav", memory() + HEALTHY48[:40] + bytes(8))
        code, out, _ = bench.run("forecast", halted, unstamped)
        assert code == 0
        assert "never: it is halted" in out
        assert "after 211 days 10 h 19 min 53 s of running" in out

    def test_what_is_assumed_is_in_the_text_in_json_and_in_the_calendar(self, bench: Bench) -> None:
        path = bench.put("a.sav", WHOLE)
        assumed = bench.json("forecast", path, "--cell", "CR2025")["assumptions"]
        assert len(assumed) == 5
        out = bench.run("forecast", path, "--cell", "CR2025")[1]
        calendar = bench.folder / "clocks.ics"
        bench.run("remind", path, "--cell", "CR2025", "-o", calendar)
        answers = bench.json("remind", path, "--cell", "CR2025", "-o", calendar)
        assert answers["assumptions"] == assumed
        unfolded = unfolded_text(calendar)
        for text in assumed:
            assert text in out
            assert unfolded.count(text) == 2

    def test_a_rate_from_a_log(self, bench: Bench) -> None:
        log = bench.folder / "log.csv"
        log.write_text("@1700000000,1d00:00:00\n@1708640000,101d00:10:00\n", encoding="utf-8")
        answers = bench.json("forecast", bench.put("a.sav", WHOLE), "--log", log)
        assert answers["earliest"] < answers["overflow_at"] < answers["latest"]

    @pytest.mark.parametrize(
        "words",
        [("--bound-ppm", "1"), ("--current-ua", "1"), ("--cell", "CR9999"), ("--cell", "AA")],
    )
    def test_wrong_words(self, bench: Bench, words: tuple[str, ...]) -> None:
        assert bench.run("forecast", bench.put("a.sav", WHOLE), *words)[0] == 2


class TestRemind:
    def test_several_saves_in_one_calendar_updated_later(self, bench: Bench) -> None:
        a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", DAY)
        calendar = bench.folder / "clocks.ics"
        code, _, _ = bench.run("remind", a, b, "-o", calendar)
        assert code == 0
        assert calendar.read_bytes().count(b"BEGIN:VEVENT") == 2
        assert bench.run("remind", a, "-o", calendar, "--days-before", "30")[0] == 0
        assert calendar.read_bytes().count(b"BEGIN:VEVENT") == 2
        assert bench.run("remind", a, "--cell", "CR2025", "-o", calendar)[0] == 0
        assert calendar.read_bytes().count(b"BEGIN:VEVENT") == 3

    def test_saves_of_equal_names_are_told_apart_by_their_folders(self, bench: Bench) -> None:
        for folder in ("north", "south"):
            (bench.folder / folder).mkdir()
        saves = [bench.put(f"{folder}/a.sav", WHOLE) for folder in ("north", "south")]
        calendar = bench.folder / "clocks.ics"
        words = ("--cell", "CR2025", "--fitted", "@0", "-o", calendar)
        assert bench.run("remind", *saves, *words)[0] == 0
        unfolded = unfolded_text(calendar)
        summaries = [line for line in unfolded.split("\r\n") if line.startswith("SUMMARY:")]
        assert len(set(summaries)) == 4
        assert sum("north" in line for line in summaries) == 2
        assert sum("overdue since 1977-" in line for line in summaries) == 2
        assert unfolded.count(f"Folder: {saves[0].parent}") == 2

    def test_a_calendar_of_more_than_a_mebibyte_is_updated(self, bench: Bench) -> None:
        path, calendar = bench.put("game.sav", WHOLE), bench.folder / "clocks.ics"
        assert bench.run("remind", path, "-o", calendar)[0] == 0
        events = calendar.read_text(encoding="utf-8").replace("\r\n", "\n")
        head, _, rest = events.partition("BEGIN:VEVENT")
        event = "BEGIN:VEVENT" + rest.rpartition("END:VCALENDAR")[0]
        others = "".join(event.replace("UID:", f"UID:{number}-") for number in range(1_300))
        text = (head + event + others + "END:VCALENDAR\n").replace("\n", "\r\n")
        calendar.write_bytes(text.encode())
        assert calendar.stat().st_size > 1_048_576
        assert bench.run("remind", path, "-o", calendar, "--days-before", "30")[0] == 0

    def test_another_programs_calendar_is_left(self, bench: Bench) -> None:
        calendar = bench.put("mine.ics", b"BEGIN:VCALENDAR\r\nPRODID:x\r\nEND:VCALENDAR\r\n")
        before = calendar.read_bytes()
        assert bench.run("remind", bench.put("a.sav", WHOLE), "-o", calendar)[0] == 4
        assert calendar.read_bytes() == before

    def test_overwriting_keeps_the_events_of_other_saves(self, bench: Bench) -> None:
        a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", DAY)
        calendar = bench.folder / "clocks.ics"
        bench.run("remind", a, b, "-o", calendar)
        assert bench.run("remind", a, "-o", calendar, "--overwrite")[0] == 0
        assert calendar.read_bytes().count(b"BEGIN:VEVENT") == 2
        mine = bench.put("mine.ics", b"other")
        assert bench.run("remind", a, "-o", mine, "--overwrite")[0] == 0
        assert mine.read_bytes().count(b"BEGIN:VEVENT") == 1

    def test_a_clock_that_was_halted_since_has_no_event_any_more(self, bench: Bench) -> None:
        a = bench.put("a.sav", WHOLE)
        calendar = bench.folder / "clocks.ics"
        bench.run("remind", a, "-o", calendar)
        a.write_bytes(memory() + patched(HEALTHY48, 16, "41"))
        assert bench.run("remind", a, "-o", calendar)[0] == 0
        assert b"BEGIN:VEVENT" not in calendar.read_bytes()

    def test_where_and_of_what(self, bench: Bench) -> None:
        a = bench.put("a.sav", WHOLE)
        assert bench.run("remind", a)[0] == 2
        assert bench.run("remind", "-", "-o", "x.ics")[0] == 2
        assert bench.run("remind", a, "-o", "x.ics", "--days-before", "-1")[0] == 2
        halted = bench.put("h.sav", memory() + patched(HEALTHY48, 16, "41"))
        code, _, err = bench.run("remind", halted, "-o", bench.folder / "x.ics")
        assert code == 2
        assert "nothing to remind of" in err
        assert bench.run("remind", a, "-o", bench.folder / "x.ics", "--dry-run")[0] == 0
        assert not (bench.folder / "x.ics").exists()


def test_diff(bench: Bench) -> None:
    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", DAY)
    assert bench.run("diff", a, a)[0] == 0
    code, out, _ = bench.run("diff", a, b)
    assert code == 1
    assert "running  300d13:40:07 | 301d13:40:07" in out
    assert "ok: only what is ordinary differs" in out
    assert "ok       the memory is identical (2,048 bytes)" in out
    assert "ok       the clock moved by 1 day, and the stamps by 1 day" in out
    other = bench.put("c.sav", b"\x01" + WHOLE[1:])
    assert (
        "FAIL  the memory differs in 1 byte, the first at 0 (0h)" in bench.run("diff", a, other)[1]
    )
    assert "FAIL: more than what is ordinary differs" in bench.run("diff", b, a)[1]
    assert bench.json("diff", a, other)["memory_first_offset"] == 0
    shown = bench.json("diff", a, b)
    assert (shown["same"], shown["ordinary"], shown["problems"]) == (False, True, [])
    assert shown["elapsed"]["cause"] == "untouched"
    assert "00 -> 01  memory" in bench.run("diff", a, other, "--content")[1]
    assert bench.run("diff", a, bench.folder / "none")[0] == 3


@pytest.mark.parametrize(
    "words",
    [
        ("correct", "--rate-ppm", "nan", "--from", "@0"),
        ("correct", "--rate-ppm", "1e400", "--from", "@0"),
        ("forecast", "--rate-ppm", "nan"),
        ("forecast", "--now", "@99999999999999"),
        ("drift", "--temperature", "nan"),
        ("drift", "--temperature", "1e200"),
    ],
)
def test_numbers_that_are_none(bench: Bench, words: tuple[str, ...]) -> None:
    a = bench.put("a.sav", WHOLE)
    files = [a, bench.later("b.sav", DAY)] if words[0] == "drift" else [a]
    assert bench.run(words[0], *files, *words[1:])[0] == 2


def test_a_log_on_standard_input_and_one_that_is_none(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    import io
    import sys

    log = b"@1700000000,1d00:00:00\n@1708640000,101d00:10:00\n"
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(log)))
    assert bench.run("drift", "--log", "-")[0] == 0
    broken = bench.put("broken.csv", b'"' + b"x" * 200_000)
    assert bench.run("drift", "--log", broken)[0] == 2
    backward = bench.put("neg.csv", b"@1700000000,0d00:00:10\n@1700000003,0d00:00:09\n")
    assert bench.run("forecast", bench.put("a.sav", WHOLE), "--log", backward)[0] == 2


def test_different_memory_is_refused_unless_it_is_allowed(bench: Bench) -> None:
    chance = random.Random(3)
    a, b = (loads(chance.randbytes(2_048) + HEALTHY48) for _ in range(2))
    first = bench.put("a.sav", dumps(a))
    second = bench.put("b.sav", dumps(b.advance_by(30 * DAY)))
    code, out, _ = bench.run("elapsed", first, second)
    assert out.splitlines()[1].startswith("  memory     The memory images have nothing in common")
    for words in (("drift", first, second), ("correct", second, "--earlier", first, "--dry-run")):
        code, _, err = bench.run(*words)
        assert code == 4
        assert "allow it (--different-memory)" in err
        assert bench.run(*words, "--different-memory")[0] == 0
    assert bench.run("correct", second, "--by", "1s", "--different-memory", "--dry-run")[0] == 2


def test_a_slack_for_every_observation(bench: Bench) -> None:
    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", 30 * DAY)
    wide, narrow = (bench.json("drift", a, b, "--slack", s)["bound_ppm"] for s in ("1m", "0s"))
    assert wide > 10 * narrow
    assert bench.run("drift", a, b, "--slack=-1s")[0] == 2


def test_verify(bench: Bench) -> None:
    a, b = bench.put("a.sav", WHOLE), bench.later("b.sav", DAY)
    code, out, _ = bench.run("verify", a, b)
    assert code == 0
    assert ": yes" in out
    stopped = bench.later("c.sav", DAY, 60)
    code, out, _ = bench.run("verify", a, stopped)
    assert code == 1
    assert ": no" in out
    assert "FAIL       the clock is 23 h 59 min slow after 1 day (allowed: 1 min 4 s)" in out
    answers = bench.json("verify", a, stopped)
    assert (answers["ok"], answers["error_s"], answers["allowed_s"]) == (False, 60 - DAY, 64)
    assert bench.run("verify", a, stopped, "--within", "1d")[0] == 0
    unstamped = bench.put("d.sav", memory() + HEALTHY48[:40] + bytes(8))
    assert "'rtcsave repair' with --saved-at INSTANT" in bench.run("verify", a, unstamped)[1]


@pytest.mark.parametrize(
    ("image", "words"),
    [
        (b"\xff" * 2_048, "the whole memory is blank"),
        ((bytes(32) + b"\xff" * 32) * 32, "the memory looks like RAM that lost its power"),
    ],
)
def test_advance_and_verify_say_that_the_cell_may_have_been_dead(
    bench: Bench, image: bytes, words: str
) -> None:
    path = bench.put("a.sav", image + HEALTHY48)
    assert words in bench.run("advance", path, "--dry-run")[1]
    assert words in bench.json("advance", path, "--dry-run")["notes"][0]
    later = bench.put("b.sav", dumps(loads(image + HEALTHY48).advance_by(DAY)))
    code, out, _ = bench.run("verify", path, later)
    assert code == 0  # a note, never a no
    assert f"the save from before: {words}" in out
    assert f"the save from after: {words}" in out
    whole = bench.put("c.sav", WHOLE)
    assert bench.json("advance", whole, "--dry-run")["notes"] == []
    assert bench.json("verify", whole, whole)["notes"] == []
