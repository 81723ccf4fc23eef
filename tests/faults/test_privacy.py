"""No command asks the net, starts another program, or writes anywhere but where it says.

Each runs in a process of its own with an audit hook, which the interpreter tells of every such thing.
"""

from __future__ import annotations

import json
import os
import pathlib
import shutil
import subprocess
import sys

import pytest

from rtcsave.cli.main import COMMANDS

SAVES = pathlib.Path(__file__).parents[2] / "examples" / "saves"
NOW = "2026-10-01T12:00:00Z"

# Each command, and the files that it may make or change: none for those that only read.
CALLS: dict[tuple[str, ...], tuple[str, ...]] = {
    ("show", "healthy.sav", "--bytes", "--explain"): (),
    ("check", ".",): (),
    ("repair", "past-range.sav"): ("past-range.sav",),
    ("repair", ".", "--plan", "plan.jsonl"): ("plan.jsonl",),
    ("advance", "healthy.sav"): ("healthy.sav",),
    ("advance", "healthy.sav", "-o", "new.sav"): ("new.sav",),
    ("set", "healthy.sav", "--halt", "on", "--no-backup"): ("healthy.sav",),
    ("correct", "healthy.sav", "--shown", "13:52", "--true", "14:05"): ("healthy.sav",),
    ("convert", "healthy.sav", "--to", "block44", "-o", "new.sav"): ("new.sav",),
    ("restore", "healthy.sav", "--list"): (),
    ("diff", "healthy.sav", "drifted.sav"): (),
    ("verify", "healthy.sav", "drifted.sav"): (),
    ("elapsed", "healthy.sav", "drifted.sav"): (),
    ("drift", "healthy.sav", "drifted.sav"): (),
    ("forecast", "healthy.sav"): (),
    ("remind", "healthy.sav", "-o", "clocks.ics"): ("clocks.ics",),
    ("sequence", "healthy.sav"): (),
    ("survey", "."): (),
    ("survey", ".", "--html", "page.html"): ("page.html",),
    ("history", "healthy.sav", "drifted.sav"): (),
    ("layouts", "--new", "-o", "mine.toml"): ("mine.toml",),
    ("completions", "bash"): (),
}  # fmt: skip

WATCHED = """
import json, os, sys
events = []
NET_AND_PROGRAMS = ("socket.", "subprocess.", "os.exec", "os.posix_spawn", "os.spawn", "os.system", "os.fork",
                    "urllib.", "http.", "smtplib.", "ftplib.", "webbrowser.")
WRITES = ("os.remove", "os.rename", "os.link", "os.symlink", "os.mkdir", "os.rmdir", "os.truncate",
          "os.chmod", "os.utime")

def hook(name, args):
    if name.startswith(NET_AND_PROGRAMS):
        events.append([name, str(args[0])[:200] if args else ""])
    elif name in WRITES:
        events.extend([name, os.path.abspath(os.fsdecode(path))] for path in args[:2]
                      if isinstance(path, (str, bytes)))
    elif name == "open":
        path, mode, flags = args
        writes = (mode and set(mode) & set("wax+")) or (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
        if writes and isinstance(path, (str, bytes)):
            events.append(["open", os.path.abspath(os.fsdecode(path))])

from rtcsave.cli.main import main
sys.addaudithook(hook)
code = main(sys.argv[2:])
with os.fdopen(int(sys.argv[1]), "w") as told:
    json.dump({"code": code, "events": events}, told)
"""


def watched(folder: pathlib.Path, words: tuple[str, ...]) -> tuple[int, list[list[str]]]:
    """The exit code of a command, and what the interpreter told of it."""
    reading, writing = os.pipe()
    command, *rest = words
    with subprocess.Popen(
        [sys.executable, "-B", "-c", WATCHED, str(writing), command, "--now", NOW, *rest],
        cwd=folder,
        pass_fds=(writing,),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    ) as process:
        os.close(writing)
        with os.fdopen(reading) as told:
            text = told.read()
        _, err = process.communicate()
    assert text, err.decode()
    answer = json.loads(text)
    return answer["code"], answer["events"]


@pytest.mark.skipif(os.name != "posix", reason="a pipe is handed over as POSIX does")
@pytest.mark.parametrize("words", list(CALLS), ids=" ".join)
def test_what_a_command_touches(words: tuple[str, ...], tmp_path: pathlib.Path) -> None:
    for path in SAVES.iterdir():
        if path.is_file():
            shutil.copy(path, tmp_path)
    code, events = watched(tmp_path, words)
    assert code in (0, 1)
    allowed = CALLS[words]
    for name, what in events:
        assert name == "open" or name.startswith("os."), (name, what)
        path = pathlib.Path(what)
        if path == pathlib.Path(os.devnull):
            continue
        assert path.parent == tmp_path or (path == tmp_path and name != "open"), (name, what)
        if path != tmp_path:
            belongs = any(path.name.startswith((target, f".{target}")) for target in allowed)
            assert belongs, (name, what)


def test_every_command_is_watched() -> None:
    assert {words[0] for words in CALLS} == set(COMMANDS)


def test_a_hook_hears_of_what_must_not_be(tmp_path: pathlib.Path) -> None:
    """Were nothing heard, the test above could not fail."""
    shutil.copy(SAVES / "healthy.sav", tmp_path)
    _, events = watched(tmp_path, ("advance", "healthy.sav"))
    written = {pathlib.Path(what).name for name, what in events if name == "open"}
    assert any(name.startswith(".healthy.sav.") for name in written)


@pytest.mark.skipif(os.name != "posix", reason="modes as POSIX has them")
@pytest.mark.parametrize(("umask", "mode"), [(0o022, 0o644), (0o077, 0o600)])
def test_a_new_file_follows_the_umask(umask: int, mode: int, tmp_path: pathlib.Path) -> None:
    shutil.copy(SAVES / "healthy.sav", tmp_path)
    words = [sys.executable, "-m", "rtcsave", "advance", "healthy.sav", "-o", "new.sav"]
    subprocess.run(words, cwd=tmp_path, umask=umask, check=True, stdout=subprocess.DEVNULL)
    assert (tmp_path / "new.sav").stat().st_mode & 0o777 == mode
