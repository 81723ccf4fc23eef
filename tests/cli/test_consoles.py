"""Consoles as they are: not UTF-8, narrow, a pipe that breaks, a terminal."""

from __future__ import annotations

import json
import os
import pathlib
import re
import subprocess
import sys

import pytest
from known import HEALTHY48, memory

from rtcsave.cli.main import COMMANDS, main

NOW = ("--now", "2026-03-11T14:15:00Z")
POSIX = os.name == "posix"


@pytest.fixture
def game(tmp_path: pathlib.Path) -> pathlib.Path:
    folder = tmp_path / "prêt № 7"
    folder.mkdir()
    path = folder / "fähre ledger.sav"
    path.write_bytes(memory() + HEALTHY48)
    return path


def run(*words: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "rtcsave", *map(str, words)],
        capture_output=True,
        env={**os.environ, **environment},
        check=False,
    )


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii", "utf-8", "cp932"])
def test_no_encoding_stops_an_output(game: pathlib.Path, encoding: str) -> None:
    done = run("show", game, *NOW, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert done.returncode == 0
    assert done.stderr == b""
    text = done.stdout.decode(encoding)
    assert "day 300, 13:40:07" in text
    picture = "#" if encoding in ("cp1252", "ascii", "cp932") else "█"
    assert f"[{picture * 19}" in text


@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "utf-8"])
def test_json_is_the_same_in_every_encoding(game: pathlib.Path, encoding: str) -> None:
    done = run("show", game, "--json", *NOW, PYTHONIOENCODING=encoding)
    assert json.loads(done.stdout)["path"] == str(game)


@pytest.mark.skipif(sys.platform != "linux", reason="other systems allow no such names")
def test_a_name_that_is_no_text(tmp_path: pathlib.Path) -> None:
    path = os.fsencode(tmp_path) + b"/f\xe4hre.sav"
    with open(path, "wb") as stream:
        stream.write(HEALTHY48)
    for extra in ([], ["--json"]):
        done = run("show", os.fsdecode(path), *NOW, *extra)
        assert done.returncode == 0
        assert done.stderr == b""


@pytest.mark.skipif(not POSIX, reason="needs a pipe that breaks")
def test_a_broken_pipe_is_quiet(game: pathlib.Path) -> None:
    many = " ".join(["'" + str(game) + "'"] * 400)
    done = subprocess.run(
        f"{sys.executable} -m rtcsave show {many} | head -n 1",
        shell=True,
        capture_output=True,
        check=True,
    )
    assert done.stdout.count(b"\n") == 1
    assert done.stderr == b""


@pytest.mark.skipif(not POSIX, reason="needs a full device")
def test_a_full_disk_under_standard_output(game: pathlib.Path) -> None:
    if not os.path.exists("/dev/full"):
        pytest.skip("no such device")
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "rtcsave", "show", str(game)],
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert done.returncode == 3
    assert b"Traceback" not in done.stderr
    assert b"the disk is full" in done.stderr


@pytest.mark.skipif(not POSIX, reason="needs a pipe that breaks")
def test_a_broken_pipe_does_not_leave_a_batch_half_done(tmp_path: pathlib.Path) -> None:
    for number in range(300):
        (tmp_path / f"{number:03d}.sav").write_bytes(HEALTHY48)
    subprocess.run(
        f"{sys.executable} -m rtcsave advance '{tmp_path}/*.sav' --no-backup | head -n 1",
        shell=True,
        capture_output=True,
        check=True,
    )
    assert not [path for path in tmp_path.iterdir() if path.read_bytes() == HEALTHY48]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs a full device")
def test_an_account_that_is_lost_does_not_stop_the_work(tmp_path: pathlib.Path) -> None:
    paths = [tmp_path / "a.sav", tmp_path / "b.sav"]
    for path in paths:
        path.write_bytes(HEALTHY48)
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-u", "-m", "rtcsave", "advance", *map(str, paths)],
            stdout=full,
            stderr=subprocess.PIPE,
            check=False,
        )
    assert done.returncode == 3
    assert b"the account of it could not be printed" in done.stderr
    assert all(path.read_bytes() != HEALTHY48 for path in paths)


@pytest.mark.skipif(not POSIX, reason="needs a shell that closes streams")
def test_closed_streams(game: pathlib.Path) -> None:
    for words, code in ((f"show '{game}' >&-", 0), ("show - <&-", 3)):
        done = subprocess.run(
            f"{sys.executable} -m rtcsave {words}", shell=True, capture_output=True, check=False
        )
        assert done.returncode == code
        assert b"Traceback" not in done.stderr


@pytest.mark.skipif(not POSIX, reason="needs a pipe that breaks")
def test_a_save_that_nobody_takes_is_an_error(game: pathlib.Path) -> None:
    done = subprocess.run(
        f"{sys.executable} -m rtcsave advance '{game}' -o - | true; exit ${{PIPESTATUS[0]}}",
        shell=True,
        executable="/bin/bash",
        capture_output=True,
        check=False,
    )
    # a quick reader may have gone before the write, or the pipe's buffer may have taken it all
    assert done.returncode in (0, 3)
    assert b"Traceback" not in done.stderr


def on_terminal(columns: int, *words: object, **environment: str) -> str:
    """What a command prints on a terminal of that width."""
    import pty

    ours, theirs = pty.openpty()
    import fcntl
    import struct
    import termios

    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("4H", 24, columns, 0, 0))
    clean = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "NO_COLOR", "TERM")}
    with subprocess.Popen(
        [sys.executable, "-m", "rtcsave", *map(str, words)],
        stdout=theirs,
        stderr=theirs,
        stdin=theirs,
        env={**clean, "TERM": "xterm-256color", **environment},
    ) as process:
        os.close(theirs)
        output = b""
        while True:
            try:
                part = os.read(ours, 65_536)
            except OSError:
                break
            if not part:
                break
            output += part
        process.wait()
    os.close(ours)
    return output.decode()


@pytest.mark.skipif(not POSIX, reason="needs a pseudo-terminal")
class TestTerminal:
    def test_colour(self, game: pathlib.Path) -> None:
        assert "\x1b[" in on_terminal(100, "show", game, *NOW)

    def test_no_color_is_respected(self, game: pathlib.Path) -> None:
        out = on_terminal(100, "show", game, *NOW, NO_COLOR="1")
        assert "day 300, 13:40:07" in out
        assert "\x1b[3" not in out

    @pytest.mark.parametrize("columns", [40, 60, 80, 200])
    def test_no_line_is_wider_than_the_terminal(self, game: pathlib.Path, columns: int) -> None:
        for words in (("show", game, *NOW), ("layouts",), ("check", "--list")):
            out = re.sub(r"\x1b\[[0-9;]*m", "", on_terminal(columns, *words, NO_COLOR="1"))
            assert max(len(line) for line in out.splitlines()) <= columns

    def test_a_saves_bytes_do_not_go_to_it(self, game: pathlib.Path) -> None:
        assert "the terminal is no place" in on_terminal(100, "advance", game, "-o", "-")


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_fits_a_narrow_terminal(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main([*([command] if command else []), "--help"]) == 0
    out = capsys.readouterr().out
    assert [line for line in out.splitlines() if len(line) > 40] == []
    assert "rtcsave" in out
