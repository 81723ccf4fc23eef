"""A survey says of every file what is true of it, whatever the file is."""

from __future__ import annotations

import itertools
import os
import pathlib
import pickle
import tracemalloc
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import pytest
from collections_made import collection, healthy, program
from known import WORKSHOP

import rtcsave
from rtcsave import BadArgument, SurveyRow, survey
from rtcsave.collection import looking, spreading
from rtcsave.strategies import NOW

POSIX = os.name == "posix"


def rows_of(*paths: Any, **more: Any) -> dict[str, SurveyRow]:
    return {row.path: row for row in survey(paths, now=NOW, **more)}


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> tuple[pathlib.Path, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("shelf")
    return folder, collection(folder, 2_000, seed=12)


def test_every_row_of_a_collection_is_true(shelf: tuple[pathlib.Path, dict[str, Any]]) -> None:
    folder, truth = shelf
    rows = rows_of(folder)
    assert set(rows) == set(truth)
    for path, truth_of_file in truth.items():
        row = rows[path]
        assert (
            list(dict.fromkeys(finding.code for finding in row.findings)) == truth_of_file["codes"]
        ), path
        if not truth_of_file["codes"]:
            assert row.clock is not None
            assert (row.clock.reading(), row.days_to_overflow) == (
                truth_of_file["clock"],
                truth_of_file["days"],
            )
            assert (row.memory_bytes, row.layout) == (
                truth_of_file["memory_bytes"],
                truth_of_file["layout"],
            )
            assert (row.worst, row.error) == (None, None)


def test_the_quick_look_says_what_the_thorough_one_says(
    shelf: tuple[pathlib.Path, dict[str, Any]],
) -> None:
    quick, thorough = rows_of(shelf[0]), rows_of(shelf[0], thorough=True)
    assert list(quick) == list(thorough)
    for path, row in quick.items():
        assert row == thorough[path], path


def test_few_files_are_read_whole(
    shelf: tuple[pathlib.Path, dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole: list[str] = []
    read = looking.read_bytes

    def counted(path: str) -> Any:
        whole.append(path)
        return read(path)

    monkeypatch.setattr(looking, "read_bytes", counted)
    rows_of(shelf[0])
    unhealthy = {path for path, truth_of_file in shelf[1].items() if truth_of_file["codes"]}
    assert set(whole) <= unhealthy


def test_memory_does_not_grow_with_the_collection(tmp_path: pathlib.Path) -> None:
    data = healthy()
    for at in range(3_000):
        os.link(tmp_path / "0.sav", tmp_path / f"{at}.sav") if at else (
            tmp_path / "0.sav"
        ).write_bytes(data)
    tracemalloc.start()
    peaks = []
    rows = iter(survey(tmp_path, now=NOW))
    for _ in range(3):
        tracemalloc.reset_peak()
        for _ in itertools.islice(rows, 1_000):
            pass
        peaks.append(tracemalloc.get_traced_memory()[1])
    tracemalloc.stop()
    assert peaks[2] < 1.2 * peaks[0] + 50_000


class TestOddFiles:
    def test_each_gives_a_row_and_none_is_the_end(self, tmp_path: pathlib.Path) -> None:
        (tmp_path / "good.sav").write_bytes(healthy())
        (tmp_path / "empty.sav").write_bytes(b"")
        (tmp_path / "text.txt").write_text("no save")
        missing = tmp_path / "missing.sav"
        rows = rows_of(tmp_path, tmp_path / "text.txt", missing)
        assert set(rows) == {
            str(tmp_path / "good.sav"), str(tmp_path / "text.txt"), str(missing)
        }  # fmt: skip
        assert rows[str(missing)].error_name == "FileMissing"
        assert rows[str(tmp_path / "text.txt")].error_name == "UnknownLength"
        assert rows[str(missing)].worst == "error"
        assert rows[str(missing)].clock is None

    @pytest.mark.skipif(not POSIX, reason="names of POSIX")
    @pytest.mark.parametrize(
        "name", [b"new\nline.sav", b"\x1b]0;x\x07.sav", b"\xff\xfe.sav", b"x" * 251 + b".sav"]
    )
    def test_hostile_names(self, tmp_path: pathlib.Path, name: bytes) -> None:
        path = os.fsencode(tmp_path) + b"/" + name
        with open(path, "wb") as stream:
            stream.write(healthy())
        (row,) = rows_of(tmp_path).values()
        assert os.fsencode(row.path) == path
        assert row.worst is None

    @pytest.mark.skipif(not POSIX, reason="pipes and links of POSIX")
    def test_pipes_and_links(self, tmp_path: pathlib.Path) -> None:
        os.mkfifo(tmp_path / "pipe.sav")
        (tmp_path / "real").mkdir()
        (tmp_path / "real" / "a.sav").write_bytes(healthy())
        (tmp_path / "link.sav").symlink_to(tmp_path / "real" / "a.sav")
        (tmp_path / "real" / "loop").symlink_to(tmp_path)
        (tmp_path / "broken.sav").symlink_to(tmp_path / "nowhere")
        assert set(rows_of(tmp_path)) == {str(tmp_path / "real" / "a.sav")}
        followed = rows_of(tmp_path, follow=True)
        assert set(followed) == {str(tmp_path / "real" / "a.sav"), str(tmp_path / "link.sav")}
        (row,) = rows_of(tmp_path / "pipe.sav").values()
        assert row.error_name == "NotARegularFile"

    @pytest.mark.skipif(not POSIX or os.geteuid() == 0, reason="root may read everything")
    def test_what_may_not_be_read(self, tmp_path: pathlib.Path) -> None:
        (tmp_path / "shut.sav").write_bytes(healthy())
        (tmp_path / "shut.sav").chmod(0)
        (row,) = rows_of(tmp_path).values()
        assert row.error_name == "SystemFailed"

    def test_a_folder_that_cannot_be_read_is_a_row(
        self, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        (tmp_path / "good.sav").write_bytes(healthy())
        shut = tmp_path / "shut"
        shut.mkdir()
        scandir = os.scandir

        def refuse(path: str) -> Any:
            if path == str(shut):
                raise PermissionError(13, "no")
            return scandir(path)

        monkeypatch.setattr("rtcsave.collection.walking.os.scandir", refuse)
        rows = rows_of(tmp_path)
        assert rows[str(shut)].error is not None
        assert "the folder or link cannot be read" in rows[str(shut)].error
        assert rows[str(tmp_path / "good.sav")].worst is None

    def test_a_file_that_vanishes_meanwhile(
        self, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        path = tmp_path / "gone.sav"
        path.write_bytes(healthy())
        original = looking.quick_look

        def late(name: str, now_s: int) -> Any:
            path.unlink()
            return original(name, now_s)

        monkeypatch.setattr("rtcsave.collection.surveying.quick_look", late)
        (row,) = rows_of(tmp_path).values()
        assert row.error_name == "FileMissing"

    def test_a_program_image_is_no_save(self, tmp_path: pathlib.Path) -> None:
        (tmp_path / "game.program").write_bytes(program(b"LANTERN VALE", 0x10, 0x03))
        (tmp_path / "image.sav").write_bytes(healthy()[:8_192])
        rows = rows_of(tmp_path)
        assert set(rows) == {str(tmp_path / "image.sav")}
        named = rows_of(tmp_path / "game.program")
        assert named[str(tmp_path / "game.program")].memory_bytes == 32_768


class TestWhatIsLookedFor:
    def test_a_pattern_and_an_order(self, tmp_path: pathlib.Path) -> None:
        for name in ("b.sav", "a.sav", "c.ram"):
            (tmp_path / name).write_bytes(healthy())
        (tmp_path / "0").mkdir()
        (tmp_path / "0" / "z.sav").write_bytes(healthy())
        names = [
            pathlib.Path(path).name for path in rows_of(tmp_path, pattern="*.sav", ordered=True)
        ]
        assert names == ["a.sav", "b.sav", "z.sav"]

    def test_programs_are_paired_by_name(self, tmp_path: pathlib.Path) -> None:
        saves, programs = tmp_path / "saves", tmp_path / "programs"
        saves.mkdir()
        programs.mkdir()
        (saves / "tide.sav").write_bytes(healthy())
        (saves / "other.sav").write_bytes(healthy())
        (programs / "tide.program").write_bytes(program(b"TIDE CLERK", 0x10, 0x03))
        rows = rows_of(saves, programs=programs)
        assert [f.code for f in rows[str(saves / "tide.sav")].findings] == ["memory-short"]
        assert rows[str(saves / "other.sav")].findings == ()

    def test_described_layouts(self, tmp_path: pathlib.Path) -> None:
        layout = rtcsave.describe(WORKSHOP)
        block = rtcsave.ClockBlock.new(
            rtcsave.CounterClock.from_seconds(99), saved_at=NOW - 60, layout=layout
        )
        save = rtcsave.SaveFile(memory=healthy()[:8_192], block=block)
        (tmp_path / "bench.sav").write_bytes(rtcsave.dumps(save))
        (tmp_path / "plain.sav").write_bytes(healthy())
        rows = rows_of(tmp_path, layouts=[layout])
        assert {row.layout for row in rows.values()} == {"bench", "block48"}

    @pytest.mark.parametrize(
        "more",
        [{"chunk": 0}, {"chunk": 1.5}, {"executor": 5}, {"layouts": "block48"}, {"now": "x"}],
    )
    def test_wrong_arguments(self, tmp_path: pathlib.Path, more: dict[str, Any]) -> None:
        with pytest.raises(BadArgument):
            survey(tmp_path, **more)


class TestRows:
    def test_they_can_be_sent(self, tmp_path: pathlib.Path) -> None:
        (tmp_path / "a.sav").write_bytes(healthy())
        (row,) = rows_of(tmp_path).values()
        assert pickle.loads(pickle.dumps(row)) == row
        assert repr(row) == f"<SurveyRow {tmp_path / 'a.sav'}: healthy, 12d03:04:05>"
        assert row.clock_now is not None
        assert row.clock_now.reading() == "13d03:04:05"
        assert row.saved_at == rtcsave.loads(healthy()).saved_at
        assert row.overflow_at is not None
        assert row.days_to_overflow == 498


def dies(works: Any, settings: Any) -> Any:
    """Look at a chunk as a worker that some files kill."""
    if any(os.path.basename(work.path).startswith("killer") for work in works):
        os._exit(9)
    return spreading.look_at_chunk_itself(works, settings)


class TestExecutors:
    @pytest.mark.parametrize("chunk", [1, 7, 256])
    def test_rows_are_those_of_the_plain_run(
        self, shelf: tuple[pathlib.Path, dict[str, Any]], chunk: int
    ) -> None:
        folder = shelf[0] / "row 1"
        plain = list(survey(folder, now=NOW, ordered=True))
        with ThreadPoolExecutor(3) as pool:
            assert list(survey(folder, now=NOW, ordered=True, executor=pool, chunk=chunk)) == plain

    def test_on_processes(self, shelf: tuple[pathlib.Path, dict[str, Any]]) -> None:
        folder = shelf[0] / "row 2"
        plain = list(survey(folder, now=NOW, ordered=True))
        with ProcessPoolExecutor(2) as pool:
            assert list(survey(folder, now=NOW, ordered=True, executor=pool, chunk=50)) == plain

    def test_few_chunks_are_under_way(self, tmp_path: pathlib.Path) -> None:
        for at in range(200):
            (tmp_path / f"{at}.sav").write_bytes(healthy())

        class Lazy:
            most = waiting = 0

            def submit(self, work: Any, *args: Any) -> Any:
                self.waiting += 1
                self.most = max(self.most, self.waiting)
                outer = self

                class Late(Future[Any]):
                    def result(self, timeout: float | None = None) -> Any:
                        outer.waiting -= 1
                        return work(*args)

                return Late()

        lazy = Lazy()
        assert len(list(survey(tmp_path, now=NOW, executor=lazy, chunk=2))) == 200
        assert lazy.most == spreading.WINDOW

    @pytest.mark.skipif(not POSIX, reason="the workers are forked, with the function that dies")
    def test_a_file_that_kills_its_worker_is_a_row(
        self, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(
            spreading, "look_at_chunk_itself", spreading.look_at_chunk, raising=False
        )
        monkeypatch.setattr(spreading, "look_at_chunk", dies)
        names = [f"{at:02}.sav" for at in range(40)]
        names[7], names[23] = "killer a.sav", "killer b.sav"
        for name in names:
            (tmp_path / name).write_bytes(healthy())
        made: list[ProcessPoolExecutor] = []

        def make() -> ProcessPoolExecutor:
            made.append(ProcessPoolExecutor(2))
            return made[-1]

        rows = {
            pathlib.Path(row.path).name: row
            for row in survey(tmp_path, now=NOW, executor=make, chunk=5, ordered=True)
        }
        made[-1].shutdown()
        assert set(rows) == set(names)
        for name, row in rows.items():
            if name.startswith("killer"):
                assert row.error is not None
                assert row.error.startswith("a worker died while it looked at this file")
            else:
                assert row.worst is None
        assert len(made) >= 3

    def test_an_executor_that_takes_nothing_gives_rows_with_its_error(
        self, tmp_path: pathlib.Path
    ) -> None:
        (tmp_path / "a.sav").write_bytes(healthy())
        pool = ThreadPoolExecutor(1)
        pool.shutdown()
        (row,) = rows_of(tmp_path, executor=pool).values()
        assert row.error is not None
        assert "cannot schedule new futures after shutdown" in row.error
