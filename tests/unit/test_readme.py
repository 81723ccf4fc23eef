"""The README is true: its commands and findings exist, its code runs, its output comes out."""

from __future__ import annotations

import pathlib
import re
import runpy
import shlex
import shutil

import pytest

from rtcsave.cli.main import COMMANDS, main

ROOT = pathlib.Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_command_is_in_its_table() -> None:
    cells = re.findall(r"^\| (`[^|]*(?:\\\|[^|]*)*`) \|", README, re.M)
    named = {name for cell in cells for name in re.findall(r"`([a-z]+)", cell)}
    assert named >= set(COMMANDS)


def test_it_is_short() -> None:
    assert len(README.splitlines()) <= 150


def test_every_guide_is_named() -> None:
    guides = {path.name for path in (ROOT / "examples" / "guides").glob("*.md")}
    assert guides == set(re.findall(r"\]\(examples/guides/([a-z-]+\.md)\)", README))


def test_the_guide_of_the_findings_is_made_from_the_entries() -> None:
    made = runpy.run_path(str(ROOT / "examples" / "guides" / "make_findings.py"))["guide"]()
    assert (ROOT / "examples" / "guides" / "findings.md").read_text(encoding="utf-8") == made


def test_the_library_in_ten_lines_runs(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(ROOT / "examples" / "saves" / "millisecond-stamp.sav", tmp_path / "game.sav")
    monkeypatch.chdir(tmp_path)
    code = README.partition("```python\n")[2].partition("```")[0]
    names: dict[str, object] = {}
    exec(compile(code, "README.md", "exec"), names)
    assert names["data"] == bytes(48)
    assert len(list(tmp_path.glob("game.sav.*.bak"))) == 1


@pytest.mark.parametrize(
    "words",
    re.findall(
        r"^\$ rtcsave ((?:show|check|repair|advance|elapsed|drift|correct|forecast|survey) \S+.*)$",
        README,
        re.M,
    ),
)
def test_the_output_printed_in_the_tour_is_what_comes_out(
    words: str,
    tmp_path: pathlib.Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    for path in (ROOT / "examples" / "saves").glob("*.sav"):
        shutil.copy(path, tmp_path)
    monkeypatch.chdir(tmp_path)
    code = main(shlex.split(words))
    printed_now = capsys.readouterr()
    printed = README.partition(f"$ rtcsave {words}\n")[2].partition("```")[0].partition("\n$ ")[0]
    lines = [line for line in printed.splitlines() if "..." not in line and ".bak" not in line]
    assert [line for line in lines if line.rstrip() not in printed_now.out + printed_now.err] == []
    assert lines or code == 0
