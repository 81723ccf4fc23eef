"""The guides are true: their code runs, and what they print comes out."""

from __future__ import annotations

import pathlib
import re
import shutil
import subprocess
import sys

import pytest

from rtcsave.cli.main import main

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
GUIDES = sorted((EXAMPLES / "guides").glob("*.md"))
IDS = [guide.stem for guide in GUIDES]


@pytest.fixture(autouse=True)
def folder(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in (EXAMPLES / "saves").iterdir():
        if path.is_file():
            shutil.copy(path, tmp_path)
    shutil.copy(EXAMPLES / "saves" / "healthy.sav", tmp_path / "game.sav")
    shutil.copy(EXAMPLES / "wrong_clock.py", tmp_path)
    (tmp_path / "shelf").mkdir()
    for name in ("healthy", "past-range", "overflowed"):
        shutil.copy(EXAMPLES / "saves" / f"{name}.sav", tmp_path / "shelf")
    (tmp_path / "dumps").mkdir()
    for number, name in (("2025-09", "healthy"), ("2026-09", "drifted")):
        shutil.copy(
            EXAMPLES / "saves" / f"{name}.sav", tmp_path / "dumps" / f"tide {number}-26.sav"
        )
    monkeypatch.chdir(tmp_path)


def blocks(guide: pathlib.Path, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", guide.read_text(encoding="utf-8"), re.S | re.M)


def test_there_are_guides() -> None:
    assert {"a-collection", "in-an-emulator", "with-a-flasher", "test-your-clock"} <= set(IDS)


@pytest.mark.parametrize("guide", GUIDES, ids=IDS)
def test_its_code_runs_from_beginning_to_end(
    guide: pathlib.Path, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = "\n".join(blocks(guide, "python"))
    names: dict[str, object] = {"__name__": "guide"}
    if code:
        exec(compile(code, guide.name, "exec"), names)
    if guide.stem == "in-an-emulator":
        assert len(list(tmp_path.glob("game.sav.*.bak"))) == 1
        assert (tmp_path / "new.sav").stat().st_size == 32768 + 48
        assert not (tmp_path / "game.conflict.sav").exists()
    if guide.stem == "with-a-flasher":
        assert capsys.readouterr().out.splitlines()[0] == "write 0 10 open memory and clock"
    if guide.stem == "test-your-clock":
        assert "counter: 32 passed, 0 failed, 0 left out" in capsys.readouterr().out


@pytest.mark.parametrize("guide", GUIDES, ids=IDS)
def test_what_it_prints_comes_out(guide: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    for block in blocks(guide, "console"):
        command, *printed = block.splitlines()
        program, *words = command.removeprefix("$ ").split()
        if program == "python":
            done = subprocess.run(
                [sys.executable, *words], capture_output=True, encoding="utf-8", check=False
            )
            out = done.stdout
        else:
            assert main(words) == 0
            out = capsys.readouterr().out
        assert printed == (out.splitlines() if printed else [])
