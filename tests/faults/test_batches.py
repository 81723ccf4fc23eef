"""A plan for many files: what it may be cut down to, what is refused, and that no kill loses a save."""

from __future__ import annotations

import errno
import json
import os
import pathlib
from typing import Any

import pytest
from killed_batches import one_round, shelf

import rtcsave
from rtcsave import BadDescription, apply_batch, plan_batch, undo_batch
from rtcsave.cli.main import main
from rtcsave.collection import batch
from rtcsave.collection.plans import parse_plan, plan_lines
from rtcsave.strategies import NOW


@pytest.fixture
def folder(tmp_path: pathlib.Path) -> pathlib.Path:
    place = tmp_path / "shelf"
    place.mkdir()
    shelf(place, 5)
    return place


def contents(folder: pathlib.Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.sav")}


def test_a_plan_writes_nothing_and_says_everything(folder: pathlib.Path) -> None:
    before = contents(folder)
    plan = plan_batch(folder, now=NOW)
    assert contents(folder) == before
    assert plan.looked_at == len(plan.files) == 40
    for planned in plan.files:
        data = before[os.path.basename(planned.path)]
        for step in planned.steps:
            for change in step.changes:
                end = change.offset + len(change.old)
                assert data[change.offset : end] == change.old
                data = data[: change.offset] + change.new + data[end:]
        assert rtcsave.check(rtcsave.loads(data), now=NOW) == ()
        assert planned.left == ()


def test_it_survives_being_written_and_read(folder: pathlib.Path) -> None:
    plan = plan_batch(folder, now=NOW, skip=("register-stray-bits",))
    assert parse_plan("\n".join(plan_lines(plan))) == plan


def test_apply_and_take_back(folder: pathlib.Path, tmp_path: pathlib.Path) -> None:
    before, journal = contents(folder), str(tmp_path / "plan.journal.jsonl")
    plan = plan_batch(folder, now=NOW)
    result = apply_batch(plan, journal)
    assert (result.ok, result.count("done")) == (True, 40)
    for outcome in result.outcomes:
        assert outcome.backup is not None
        backup = pathlib.Path(outcome.backup)
        assert backup.read_bytes() == before[os.path.basename(outcome.path)]
        assert rtcsave.check(rtcsave.load(outcome.path), now=NOW) == ()
    after = contents(folder)
    again = apply_batch(plan, journal)
    assert (again.count("already"), contents(folder)) == (40, after)
    assert undo_batch(journal).count("done") == 40
    assert contents(folder) == before
    assert undo_batch(journal).count("already") == 40


def test_what_changed_since_is_refused_and_the_rest_is_done(
    folder: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    journal = str(tmp_path / "j.jsonl")
    plan = plan_batch(folder, now=NOW)
    (folder / "003.sav").write_bytes(b"another program was here")
    (folder / "004.sav").unlink()
    result = apply_batch(plan, journal)
    assert (result.count("done"), result.count("refused"), result.count("failed")) == (38, 1, 1)
    assert not result.ok
    assert (folder / "003.sav").read_bytes() == b"another program was here"
    (folder / "005.sav").write_bytes(b"played on")
    undone = undo_batch(journal)
    assert (undone.count("done"), undone.count("refused")) == (37, 1)
    assert (folder / "005.sav").read_bytes() == b"played on"


def edited(lines: list[str], number: int, change: Any) -> str:
    line = json.loads(lines[number])
    change(line)
    return "\n".join([*lines[:number], json.dumps(line), *lines[number + 1 :]])


class TestEditing:
    @pytest.fixture
    def lines(self, folder: pathlib.Path) -> list[str]:
        (folder / "000.sav").write_bytes(
            (
                pathlib.Path(__file__).parents[2] / "examples" / "saves" / "past-range.sav"
            ).read_bytes()
        )
        return list(plan_lines(plan_batch(folder, now=NOW)))

    def test_lines_may_be_removed(
        self, lines: list[str], folder: pathlib.Path, tmp_path: pathlib.Path
    ) -> None:
        before = contents(folder)
        plan = parse_plan("\n".join([lines[0], *lines[10:12]]) + "\n\n")
        assert apply_batch(plan, str(tmp_path / "j.jsonl")).count("done") == 2
        assert sum(contents(folder)[name] != data for name, data in before.items()) == 2

    def test_steps_may_be_struck(
        self, lines: list[str], folder: pathlib.Path, tmp_path: pathlib.Path
    ) -> None:
        text = edited([lines[0], lines[1]], 1, lambda line: line["steps"].pop())
        plan = parse_plan(text)
        assert [step.code for step in plan.files[0].steps] == ["register-past-range"]
        assert apply_batch(plan, str(tmp_path / "j.jsonl")).count("done") == 1
        findings = rtcsave.check(rtcsave.load(folder / "000.sav"), now=NOW)
        assert {finding.code for finding in findings} == {"latched-past-range"}

    @pytest.mark.parametrize(
        "change",
        [
            lambda line: line.update(path="/other.sav"),
            lambda line: line.update(digest="0" * 64),
            lambda line: line.update(left=["nothing"]),
            lambda line: line.update(more=1),
            lambda line: line.update(steps=None),
            lambda line: line.pop("seal"),
            lambda line: line["steps"][0].update(code="memory-blank"),
            lambda line: line["steps"][0]["changes"][0].update(new="ff"),
            lambda line: line["steps"][0]["changes"].clear(),
            lambda line: line["steps"][0].pop("seal"),
            lambda line: line["steps"].append(5),
        ],
    )
    def test_anything_else_is_refused(self, lines: list[str], change: Any) -> None:
        with pytest.raises(BadDescription, match=r"the plan was changed, plan.jsonl, line 2"):
            parse_plan(edited(lines, 1, change), "plan.jsonl")

    @pytest.mark.parametrize(
        "change", [lambda line: line.update(now=5), lambda line: line.update(also=["block-inside"])]
    )
    def test_nor_may_the_header_change(self, lines: list[str], change: Any) -> None:
        with pytest.raises(BadDescription, match="the plan was changed"):
            parse_plan(edited(lines, 0, change))

    def test_a_step_of_another_file_is_noticed(self, lines: list[str]) -> None:
        step = json.loads(lines[2])["steps"][0]
        with pytest.raises(BadDescription, match="the plan was changed"):
            parse_plan(edited(lines, 1, lambda line: line["steps"].append(step)))

    @pytest.mark.parametrize(
        "text", ["", "\n", "{", "[]", "5", '{"rtcsave_plan": 1}', "[" * 100_000]
    )
    def test_what_is_no_plan(self, text: str) -> None:
        with pytest.raises(BadDescription):
            parse_plan(text)

    def test_a_file_twice(self, lines: list[str]) -> None:
        with pytest.raises(BadDescription, match="stands in two lines"):
            parse_plan("\n".join([*lines, lines[1]]))

    def test_steps_that_need_one_another_cannot_be_parted_in_silence(
        self, lines: list[str], folder: pathlib.Path, tmp_path: pathlib.Path
    ) -> None:
        before = contents(folder)
        plan = parse_plan(edited([lines[0], lines[1]], 1, lambda line: line["steps"].reverse()))
        result = apply_batch(plan, str(tmp_path / "j.jsonl"))
        assert result.count("refused") == 1
        assert "would change other bytes than it says" in result.outcomes[0].words
        assert contents(folder) == before


class Killed(BaseException):
    """The process ends here."""


@pytest.mark.parametrize("fails", [None, errno.ENOSPC, errno.EIO])
def test_killed_or_failing_at_every_call(
    folder: pathlib.Path, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch, fails: int | None
) -> None:
    for path in sorted(folder.glob("*.sav"))[3:]:
        path.unlink()
    before = contents(folder)
    plan = plan_batch(folder, now=NOW)
    names = ("fsync", "replace", "link", "rename", "unlink", "open", "chmod", "utime")
    originals = {name: getattr(os, name) for name in names}
    at = 0
    while True:
        at += 1
        journal = str(tmp_path / f"{at}.journal.jsonl")
        calls = 0

        def counted(name: str, at: int = at) -> Any:
            def call(*args: Any, **more: Any) -> Any:
                nonlocal calls
                calls += 1
                if calls == at:
                    if fails is None:
                        raise Killed
                    raise OSError(fails, os.strerror(fails))
                return originals[name](*args, **more)

            return call

        for name in names:
            monkeypatch.setattr(os, name, counted(name))
        try:
            result = apply_batch(plan, journal)
        except Killed:
            result = None
        finally:
            for name in names:
                monkeypatch.setattr(os, name, originals[name])
        for name, data in before.items():
            now = (folder / name).read_bytes()
            if now != data:
                backups = [
                    pathlib.Path(b.path).read_bytes() for b in rtcsave.backups(folder / name)
                ]
                assert data in backups, (at, name)
        assert apply_batch(plan, journal).ok, at
        assert rtcsave.check(rtcsave.load(folder / "000.sav"), now=NOW) == ()
        assert undo_batch(journal).ok
        assert contents(folder) == before
        for path in folder.iterdir():
            if path.suffix != ".sav":
                path.unlink()
        if calls < at:
            assert result is not None
            assert result.ok
            break
    assert at > 20


def test_a_journal_whose_last_line_was_cut_off(
    folder: pathlib.Path, tmp_path: pathlib.Path
) -> None:
    before, journal = contents(folder), tmp_path / "j.jsonl"
    plan = plan_batch(folder, now=NOW)
    apply_batch(plan, str(journal))
    whole = journal.read_bytes()
    journal.write_bytes(whole[: whole.rindex(b'"after"') + 12])
    assert (
        apply_batch(plan, str(journal)).count("refused") == 1
    )  # it was done, but the journal does not say so
    assert undo_batch(str(journal)).count("done") == 39
    last = plan.files[-1].path
    assert rtcsave.restore(last) is not None
    assert contents(folder) == before


def test_a_journal_that_is_none(tmp_path: pathlib.Path) -> None:
    for text in ("[]\n", '{"path": 5}\n'):
        (tmp_path / "j").write_text(text)
        with pytest.raises(BadDescription, match="this is no journal"):
            undo_batch(str(tmp_path / "j"))
    (tmp_path / "j").write_text("")
    with pytest.raises(rtcsave.FileFault, match="the journal names no file"):
        undo_batch(str(tmp_path / "j"))
    with pytest.raises(FileNotFoundError, match="there is no such journal"):
        undo_batch(str(tmp_path / "missing"))


@pytest.mark.skipif(os.name != "posix", reason="processes are killed as POSIX does")
def test_killed_processes_lose_nothing(tmp_path: pathlib.Path) -> None:
    kills = 0
    for number in range(3):
        place = tmp_path / str(number)
        place.mkdir()
        killed, problems = one_round(place, 70 + number)
        assert problems == []
        kills += killed
    assert kills


class TestCommand:
    def test_from_plan_to_undo(
        self, folder: pathlib.Path, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        before, plan = contents(folder), tmp_path / "plan.jsonl"
        now = ("--now", f"@{NOW}")
        assert main(["repair", str(folder), "--plan", str(plan), *now]) == 0
        assert "to repair  40 files" in capsys.readouterr().out
        assert contents(folder) == before
        assert main(["repair", "--apply", str(plan)]) == 0
        out = capsys.readouterr().out
        assert "done        40 files" in out
        journal = tmp_path / "plan.journal.jsonl"
        assert f"to go back  rtcsave restore --journal {journal}" in out
        assert main(["repair", "--apply", str(plan)]) == 0
        assert "done before  40 files" in capsys.readouterr().out
        (folder / "000.sav").write_bytes(b"played on")
        assert main(["restore", "--journal", str(journal)]) == 4
        held_out = capsys.readouterr()
        assert "done     39 files" in held_out.out
        assert "000.sav: refused: the file has changed since the batch" in held_out.err
        assert main(["repair", str(folder), "--plan", str(plan), *now]) == 4  # its journal exists

    def test_as_json(self, folder: pathlib.Path, tmp_path: pathlib.Path, capsys: Any) -> None:
        plan = str(tmp_path / "plan.jsonl")
        assert main(["repair", str(folder), "--plan", plan, "--now", f"@{NOW}", "--json"]) == 0
        assert json.loads(capsys.readouterr().out) == {
            "path": plan, "looked_at": 40, "to_repair": 40, "for_a_person": 0,
        }  # fmt: skip
        assert main(["repair", "--apply", plan, "--json"]) == 0
        rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
        assert {row["outcome"] for row in rows} == {"done"}
        assert len(rows) == 40

    @pytest.mark.parametrize(
        "words",
        [
            ("repair",),
            ("repair", "--plan", "p.jsonl"),
            ("repair", "x", "--plan", "p.jsonl", "--no-backup"),
            ("repair", "x", "--plan", "p.jsonl", "--only", "stamp-absent"),
            ("repair", "x", "--apply", "p.jsonl"),
            ("repair", "--apply", "p.jsonl", "--dry-run"),
            ("restore",),
            ("restore", "x", "--journal", "j.jsonl"),
        ],
    )
    def test_contradictions(self, words: tuple[str, ...]) -> None:
        assert main(list(words)) == 2

    def test_a_folder_is_not_repaired_without_a_plan(
        self, folder: pathlib.Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        before = contents(folder)
        assert main(["repair", str(folder)]) == 2
        assert "a folder is repaired by a plan" in capsys.readouterr().err
        assert contents(folder) == before

    def test_a_plan_over_another_file_is_refused(
        self, folder: pathlib.Path, tmp_path: pathlib.Path
    ) -> None:
        target = tmp_path / "notes.txt"
        target.write_text("mine")
        assert main(["repair", str(folder), "--plan", str(target)]) == 4
        assert target.read_text() == "mine"


def test_a_summary_for_people() -> None:
    result = batch.BatchResult(
        outcomes=(
            batch.FileOutcome(path="a", outcome="done"),
            batch.FileOutcome(path="b", outcome="done"),
            batch.FileOutcome(path="c", outcome="refused"),
        )
    )
    assert repr(result) == "<BatchResult: 2 done, 1 refused>"


def test_a_journal_that_cannot_be_ended_says_that_the_file_was_repaired(
    folder: pathlib.Path, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = plan_batch(folder, now=NOW)
    whole = batch.Journal.add

    def full(book: batch.Journal, line: dict[str, Any]) -> None:
        if "done" in line:
            raise rtcsave.SystemFailed(
                "the journal cannot be written", remedy="nothing was changed"
            )
        whole(book, line)

    monkeypatch.setattr(batch.Journal, "add", full)
    for outcome in apply_batch(plan, str(tmp_path / "j")).outcomes:
        assert outcome.outcome == "failed"
        assert "nothing was changed" not in outcome.words
        assert "the file was repaired (backup " in outcome.words
    monkeypatch.setattr(batch.Journal, "add", whole)
    assert apply_batch(plan, str(tmp_path / "j")).count("already") == 40


@pytest.mark.skipif(os.name != "posix", reason="names and links as POSIX has them")
def test_a_name_that_is_nearly_too_long_is_taken_back_and_a_second_name_is_said(
    tmp_path: pathlib.Path,
) -> None:
    place = tmp_path / "shelf"
    place.mkdir()
    shelf(place, 1)
    first = sorted(place.glob("*.sav"))[0]
    longest = first.rename(place / ("n" * 230 + ".sav"))
    for other in place.glob("*.sav"):
        if other != longest:
            other.unlink()
    os.link(longest, tmp_path / "second name")
    before, journal = longest.read_bytes(), str(tmp_path / "j")
    plan = plan_batch(place, now=NOW)
    assert plan.files[0].left == (
        "mind: the file has another name (hard links), which keep the old bytes",
    )
    (outcome,) = apply_batch(plan, journal).outcomes
    assert outcome.outcome == "done"
    assert "hard links" in outcome.words
    (outcome,) = undo_batch(journal).outcomes
    assert outcome.outcome == "done"
    assert longest.read_bytes() == before
