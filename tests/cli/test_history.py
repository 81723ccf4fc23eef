"""`history`: a series of dumps, its drift, and a series of two cartridges that is not fitted."""

from __future__ import annotations

import json
import pathlib
import random

import pytest

import rtcsave
from rtcsave import BadArgument, ClockBlock, CounterClock, SaveFile, dumps, history
from rtcsave.cli.main import main
from rtcsave.collection.series import series_of

BEGIN = 1_773_152_100  # 2026-03-10T14:15:00Z
MONTH = 30 * 86_400
NOW = BEGIN + 6 * MONTH


def series(number: int, rate_ppm: float, seed: int = 2) -> list[SaveFile]:
    """Dumps a month apart, of a clock with that rate."""
    chance = random.Random(seed)
    memory = bytearray(chance.randbytes(2_048))
    saves, reading_s = [], 1_000_000.0
    for at in range(number):
        clock = CounterClock.from_seconds(int(reading_s))
        block = ClockBlock.new(clock, saved_at=BEGIN + at * MONTH)
        saves.append(SaveFile(memory=bytes(memory), block=block))
        reading_s += MONTH * (1 + rate_ppm / 1e6)
        memory[chance.randrange(2_048)] ^= 0xFF
    return saves


@pytest.fixture
def folder(tmp_path: pathlib.Path) -> pathlib.Path:
    place = tmp_path / "dumps"
    place.mkdir()
    for at, save in enumerate(series(5, 18.0)):
        (place / f"tide 2026-{at + 3:02}-10.sav").write_bytes(dumps(save))
    return place


@pytest.mark.parametrize("rate_ppm", [-40.0, 0.0, 18.0])
def test_the_rate_of_a_series(rate_ppm: float) -> None:
    saves = series(5, rate_ppm)
    dump_history = history(reversed(saves), now=NOW)
    assert list(dump_history.saves) == saves
    assert dump_history.drift is not None
    assert dump_history.drift.low_ppm is not None
    assert dump_history.drift.high_ppm is not None
    assert dump_history.drift.low_ppm < rate_ppm < dump_history.drift.high_ppm
    assert [step.elapsed.cause for step in dump_history.steps] == ["untouched"] * 4
    assert (dump_history.is_mixed, dump_history.problems) == (False, ())
    widths = [step.drift.bound_ppm for step in dump_history.steps if step.drift is not None]
    assert len(widths) == 4
    assert widths[-1] == dump_history.drift.bound_ppm
    assert dump_history.findings == ((),) * 5


def test_a_series_of_two_cartridges_is_said_and_not_fitted() -> None:
    mixed = [*series(3, 18.0), series(5, 18.0, seed=9)[4]]
    dump_history = history(mixed, now=NOW)
    assert dump_history.is_mixed
    assert dump_history.drift is None
    assert all(step.drift is None for step in dump_history.steps)
    assert (
        "the memory of save 4 has nothing in common with that of save 3" in dump_history.problems[0]
    )
    assert history(mixed, now=NOW, different_memory=True).drift is not None


def test_saves_without_a_stamp_stand_last_and_out_of_the_rate() -> None:
    saves = series(4, 18.0)
    saves[1] = saves[1].with_stamp(None)
    dump_history = history(saves, now=NOW)
    assert dump_history.saves[-1] == saves[1]
    assert dump_history.drift is not None
    assert dump_history.drift.n_samples == 3
    assert dump_history.problems == ("1 save without a usable stamp: left out of the rate",)


def test_what_has_no_history() -> None:
    saves = series(2, 18.0)
    with pytest.raises(BadArgument, match="two saves or more"):
        history(saves[:1])
    with pytest.raises(rtcsave.NoClock):
        history([saves[0], saves[1].without_block()])
    one_second = [saves[0], saves[0]]
    dump_history = history(one_second, now=NOW)
    assert dump_history.drift is None
    assert dump_history.problems[0].startswith("no rate: ")


def test_names_that_are_alike_but_for_a_date() -> None:
    paths = [
        "a/tide 2026-03-10.sav", "a/tide 20260401T1415.sav", "a/tide.sav", "a/ferry_2026-03-10.sav",
        "b/tide 2026-03-10.sav", "a/2026-03-10 quay.sav", "a/2026-04-10 quay.sav", "a/level 1986.sav",
    ]  # fmt: skip
    assert {
        name.replace("\\", "/"): len(members) for name, members in series_of(paths).items()
    } == {
        "a/tide": 3,
        "a/quay": 2,
    }


class TestCommand:
    def test_a_line_for_each_dump(
        self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        paths = [str(path) for path in sorted(folder.glob("*.sav"))]
        assert main(["history", "--now", f"@{NOW}", *reversed(paths)]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert lines[1].split() == [
            "tide", "2026-03-10.sav", "11d13:46:40,", "2026-03-10", "14:15:00", "UTC",
        ]  # fmt: skip
        assert "30 days later, almost certainly untouched; so far +" in lines[2]
        assert lines[-1].lstrip().startswith("rate")

    def test_a_folder_has_a_history_for_each_series(
        self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        for at, save in enumerate(series(2, -5.0, seed=4)):
            (folder / f"quay {at + 2026}-05-05.sav").write_bytes(dumps(save))
        assert main(["history", "--now", f"@{NOW}", str(folder), "--json"]) == 0
        rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
        assert [len(row["saves"]) for row in rows] == [2, 5]
        assert rows[1]["drift"]["low_ppm"] < 18.0 < rows[1]["drift"]["high_ppm"]
        assert rows[1]["steps"][0]["elapsed"]["cause"] == "untouched"

    def test_a_picture(self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
        picture = folder.parent / "tide.svg"
        assert main(["history", "--now", f"@{NOW}", str(folder), "--plot", str(picture)]) == 0
        assert picture.read_bytes().lstrip().startswith(b"<?xml")
        assert main(["history", str(folder), "--plot", str(picture)]) == 4

    def test_mixed_cartridges(
        self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (folder / "tide 2026-09-10.sav").write_bytes(dumps(series(5, 0.0, seed=8)[4]))
        assert main(["history", "--now", f"@{NOW}", str(folder)]) == 1
        assert "they may be of two cartridges" in capsys.readouterr().out
        words = ["history", "--now", f"@{NOW}", str(folder), "--plot", str(folder / "x.png")]
        assert main(words) == 2

    def test_no_series(self, tmp_path: pathlib.Path) -> None:
        (tmp_path / "a.sav").write_bytes(dumps(series(1, 0.0)[0]))
        assert main(["history", str(tmp_path)]) == 2
        assert main(["history", str(tmp_path / "a.sav")]) == 2
        assert main(["history", str(tmp_path / "missing.sav")]) == 3

    def test_a_broken_dump_is_named_itself(
        self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        broken = folder / "tide 2026-05-11.sav"
        broken.write_bytes(bytes(100))
        files = sorted(map(str, folder.glob("*.sav")))
        assert main(["history", *files]) == 3
        err = capsys.readouterr().err
        assert err.startswith(f"rtcsave: {broken}: no save has this length")
        (folder / "fen.sav").write_bytes(dumps(series(1, 0.0)[0]))
        assert main(["history", str(folder)]) == 0
        err = capsys.readouterr().err
        assert f"passed over 1 file, by length and content no save: {broken}" in err
        assert f"in no series, by their names: {folder / 'fen.sav'}" in err
