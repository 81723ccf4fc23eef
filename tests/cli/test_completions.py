"""`completions`: tried in the shells that this machine has."""

from __future__ import annotations

import pathlib
import shutil
import subprocess
import sys

import pytest

from rtcsave.cli.completions import SHELLS
from rtcsave.cli.main import COMMANDS, main


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_is_known(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completions", shell]) == 0
    text = capsys.readouterr().out
    for word in (*COMMANDS, "--severity", "block48-be", "register-stray-bits", "--saved-at"):
        assert word in text, word


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_shell_takes_it(
    shell: str, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed")
    assert main(["completions", shell]) == 0
    script = tmp_path / "completions"
    script.write_text(capsys.readouterr().out)
    done = subprocess.run([shell, "-n", str(script)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
@pytest.mark.parametrize(
    ("words", "completed"),
    [
        ("sur", "survey"),
        ("survey --s", "--severity --shelf --sort"),
        ("survey --severity ''", "error note warning"),
        ("show --layout block48", "block48 block48-be"),
        ("repair --also register-s", "register-stray-bits"),
    ],
)
def test_what_bash_completes(
    words: str, completed: str, tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["completions", "bash"]) == 0
    script = tmp_path / "completions.bash"
    script.write_text(capsys.readouterr().out)
    at = len(words.split())
    code = (
        f"source {script}; COMP_WORDS=(rtcsave {words}); COMP_CWORD={at}; _shtab_rtcsave; "
        'printf "%s\\n" "${COMPREPLY[@]}" | sort | xargs'
    )
    done = subprocess.run(["bash", "-c", code], capture_output=True, text=True)
    assert done.stdout.split() == completed.split()


def test_json_and_other_shells(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completions", "bash", "--json"]) == 0
    assert capsys.readouterr().out.startswith('{"shell": "bash", "completions": "')
    assert main(["completions", "ksh"]) == 2


def test_without_the_library_it_says_what_to_install() -> None:
    code = (
        "import sys; sys.modules['shtab'] = None; from rtcsave.cli.main import main; "
        "sys.exit(main(['completions', 'bash']))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 3
    assert 'pip install "rtcsave[completions]"' in done.stderr


@pytest.mark.parametrize(
    ("library", "extra", "words"),
    [
        ("matplotlib", "plot", ["drift", "--log", "drift-log.csv", "--plot", "OUT.png"]),
        ("icalendar", "calendar", ["remind", "saves/healthy.sav", "-o", "OUT.ics"]),
        ("jinja2", "report", ["survey", "saves", "--html", "OUT.html"]),
    ],
)
def test_an_optional_package_that_is_missing(
    library: str, extra: str, words: list[str], tmp_path: pathlib.Path
) -> None:
    words = [word.replace("OUT", str(tmp_path / "out")) for word in words]
    code = (
        f"import sys; sys.modules[{library!r}] = None; from rtcsave.cli.main import main; "
        f"sys.exit(main({words!r}))"
    )
    examples = pathlib.Path(__file__).parents[2] / "examples"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", cwd=examples
    )
    assert done.returncode == 3
    assert f'pip install "rtcsave[{extra}]"' in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []
