"""Reading and writing files: whole, durable, backed up, never over another program's write."""

from __future__ import annotations

import os
import pathlib
import stat
from datetime import datetime, timezone

import pytest
from known import HEALTHY48, NOW, memory

import rtcsave
from rtcsave import (
    BadArgument,
    BadDescription,
    ChangedUnderneath,
    NoBackup,
    NotARegularFile,
    SystemFailed,
    TooLarge,
    WouldOverwrite,
    backups,
    dump,
    load,
    read,
    restore,
)
from rtcsave.storage import looking, names, replacing, writing
from rtcsave.storage.reading import read_text

WHOLE = memory() + HEALTHY48
POSIX = os.name == "posix"


@pytest.fixture
def wall_clock(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The instant that backups are named by; 2026-03-10T14:15:00Z until a test changes it."""
    present = [1_773_152_100]
    for module in (writing, looking, names):
        monkeypatch.setattr(module, "present_s", lambda: present[0])
    return present


@pytest.fixture
def save_path(tmp_path: pathlib.Path, wall_clock: list[int]) -> pathlib.Path:
    folder = tmp_path / "Ferry Ledger — copié"  # blanks and accents, as people have them
    folder.mkdir()
    path = folder / "ferry ledger.sav"
    path.write_bytes(WHOLE)
    os.utime(path, (1_700_000_000, 1_700_000_000))
    return path


def listed(path: pathlib.Path) -> list[str]:
    return sorted(file.name for file in path.parent.iterdir())


class TestReading:
    def test_what_was_read_is_remembered(self, save_path: pathlib.Path) -> None:
        data, origin = read(save_path)
        assert data == WHOLE
        assert origin.path == str(save_path)
        assert origin.modified_at == datetime(2023, 11, 14, 22, 13, 20, tzinfo=timezone.utc)
        assert len(origin.digest) == 64
        save = load(save_path)
        assert save.origin == origin
        assert save == rtcsave.loads(WHOLE)
        assert save.advance_to(NOW).with_stamp(None).without_block().origin == origin

    def test_a_folder(self, tmp_path: pathlib.Path) -> None:
        with pytest.raises(NotARegularFile, match="found a folder") as caught:
            load(tmp_path)
        assert str(tmp_path) in str(caught.value)

    @pytest.mark.skipif(not POSIX, reason="this system has no named pipes in folders")
    def test_a_pipe_is_refused_at_once(self, tmp_path: pathlib.Path) -> None:
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(NotARegularFile, match="found a pipe"):
            load(tmp_path / "pipe")

    def test_a_device(self) -> None:
        with pytest.raises(NotARegularFile, match="found a device"):
            load(os.devnull)

    def test_a_large_file_is_refused_by_its_size_unread(
        self, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        path = tmp_path / "large"
        with open(path, "wb") as stream:
            stream.truncate(1 << 40)  # sparse: a terabyte that does not fit into memory
        with pytest.raises(TooLarge, match="found 1,099,511,627,776 bytes"):
            load(path)

    def test_the_largest_file_that_is_read(self, tmp_path: pathlib.Path) -> None:
        path = tmp_path / "edge"
        path.write_bytes(bytes(1_048_576))
        assert len(read(path)[0]) == 1_048_576
        path.write_bytes(bytes(1_048_577))
        with pytest.raises(TooLarge):
            read(path)

    def test_a_file_that_is_not_there(self, tmp_path: pathlib.Path) -> None:
        with pytest.raises(SystemFailed, match="there is no such file") as caught:
            load(tmp_path / "none.sav")
        assert isinstance(caught.value, OSError)
        assert caught.value.errno == 2

    @pytest.mark.skipif(not POSIX or os.geteuid() == 0, reason="needs a user who may not read all")
    def test_no_permission(self, save_path: pathlib.Path) -> None:
        save_path.chmod(0)
        with pytest.raises(SystemFailed, match="no permission"):
            load(save_path)

    def test_no_permission_as_the_system_says_it(
        self, save_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*args: object, **kwargs: object) -> int:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(os, "open", refuse)
        with pytest.raises(SystemFailed, match="no permission"):
            load(save_path)

    @pytest.mark.parametrize("wrong", [None, 3, b"x", "", "a\0b", "\ud800.sav"])
    def test_what_is_no_path(self, wrong: object) -> None:
        with pytest.raises(BadArgument, match="this is not a path"):
            load(wrong)  # type: ignore[arg-type]

    def test_an_error_of_the_bytes_names_the_file(self, tmp_path: pathlib.Path) -> None:
        path = tmp_path / "short.sav"
        path.write_bytes(WHOLE[:-20])
        with pytest.raises(rtcsave.BlockCutShort) as caught:
            load(path)
        assert str(path) in str(caught.value)

    def test_text_of_two_bytes_a_letter_without_a_mark(self, tmp_path: pathlib.Path) -> None:
        path = tmp_path / "log.csv"
        path.write_bytes("2026-03-10T14:15:00Z, 1d00:00:00".encode("utf-16-le"))
        with pytest.raises(BadDescription, match="it has NUL bytes"):
            read_text(str(path))

    def test_text_as_consoles_write_it(self, tmp_path: pathlib.Path) -> None:
        path = tmp_path / "text.toml"
        for encoding in ("utf-8", "utf-8-sig", "utf-16"):
            path.write_bytes("größe = 1".encode(encoding))
            assert read_text(str(path)) == "größe = 1"
        path.write_bytes(b"a\xff\xff")
        with pytest.raises(BadDescription, match="the file is not text"):
            read_text(str(path))


class TestWriting:
    def test_back_in_place_with_a_backup(self, save_path: pathlib.Path) -> None:
        save_path.chmod(0o640)
        written = dump(load(save_path).advance_by(60), save_path)
        backup = save_path.with_name("ferry ledger.sav.20260310T141500Z.bak")
        assert written.backup == str(backup)
        assert listed(save_path) == [save_path.name, backup.name]
        assert backup.read_bytes() == WHOLE
        assert save_path.read_bytes() == memory() + b"\x07\0\0\0\x29" + HEALTHY48[
            5:40
        ] + bytes.fromhex("a027b06900000000")
        assert backup.stat().st_mtime == 1_700_000_000
        if POSIX:
            assert stat.S_IMODE(save_path.stat().st_mode) == 0o640
            assert stat.S_IMODE(backup.stat().st_mode) == 0o640

    def test_backups_never_overwrite_each_other(self, save_path: pathlib.Path) -> None:
        for _ in range(3):
            dump(load(save_path).advance_by(60), save_path)
        assert [backup.name for backup in backups(save_path)] == [
            "ferry ledger.sav.20260310T141500Z-3.bak",
            "ferry ledger.sav.20260310T141500Z-2.bak",
            "ferry ledger.sav.20260310T141500Z.bak",
        ]

    def test_a_save_without_a_usable_stamp_keeps_the_files_time(
        self, save_path: pathlib.Path
    ) -> None:
        save_path.write_bytes(memory() + HEALTHY48[:40] + bytes(8))
        os.utime(save_path, (1_700_000_000, 1_700_000_000))
        dump(load(save_path).with_layout("block44"), save_path)
        assert save_path.stat().st_mtime == 1_700_000_000
        other = save_path.with_name("other.sav")
        dump(load(save_path), other)
        assert other.stat().st_mtime == 1_700_000_000
        dump(load(save_path).with_stamp(NOW), save_path)
        assert save_path.stat().st_mtime > 1_700_000_000

    def test_paths_are_told_as_they_were_given(
        self, save_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(save_path.parent)
        written = dump(load(save_path.name).advance_by(60), save_path.name)
        assert written.backup == f"{save_path.name}.20260310T141500Z.bak"

    def test_where_a_save_came_from_is_known_from_any_folder(
        self, save_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(save_path.parent)
        save = load(save_path.name)
        (save_path.parent / "other").mkdir()
        monkeypatch.chdir(save_path.parent / "other")
        dump(save.advance_by(60), save_path)
        assert save_path.read_bytes() != WHOLE
        save_path.with_name(save_path.name).rename(save_path.with_name("moved.sav"))
        here = pathlib.Path(save_path.name)
        here.write_bytes(WHOLE)
        with pytest.raises(WouldOverwrite):  # the same name in another folder is another file
            dump(save.advance_by(60), here)

    def test_without_a_backup_when_told_so(self, save_path: pathlib.Path) -> None:
        assert dump(load(save_path).advance_by(60), save_path, backup=False).backup is None
        assert listed(save_path) == [save_path.name]

    def test_to_a_new_file(self, save_path: pathlib.Path) -> None:
        other = save_path.with_name("other.sav")
        assert dump(load(save_path), other).backup is None
        assert other.read_bytes() == WHOLE
        if POSIX:
            mask = os.umask(0)
            os.umask(mask)
            assert stat.S_IMODE(other.stat().st_mode) == 0o666 & ~mask

    def test_another_file_is_refused_unless_told(self, save_path: pathlib.Path) -> None:
        other = save_path.with_name("other.sav")
        other.write_bytes(b"precious")
        with pytest.raises(WouldOverwrite):
            dump(load(save_path), other)
        with pytest.raises(WouldOverwrite):
            dump(rtcsave.loads(WHOLE).advance_by(60), save_path)
        assert not dump(rtcsave.loads(WHOLE), save_path).changed  # the same bytes: nothing is lost
        assert other.read_bytes() == b"precious"
        written = dump(load(save_path), other, overwrite=True)
        assert written.backup is not None
        assert pathlib.Path(written.backup).read_bytes() == b"precious"

    def test_a_file_that_changed_is_refused_and_untouched(self, save_path: pathlib.Path) -> None:
        save = load(save_path).advance_by(60)
        save_path.write_bytes(WHOLE[:-1] + b"\x01")
        with pytest.raises(ChangedUnderneath, match="has changed since it was read"):
            dump(save, save_path)
        with pytest.raises(ChangedUnderneath):
            dump(save, save_path, overwrite=True)
        assert save_path.read_bytes() == WHOLE[:-1] + b"\x01"
        assert listed(save_path) == [save_path.name]

    def test_a_file_that_is_gone_is_refused(self, save_path: pathlib.Path) -> None:
        save = load(save_path)
        save_path.unlink()
        with pytest.raises(ChangedUnderneath, match="it is gone"):
            dump(save, save_path)
        assert listed(save_path) == []

    def test_a_change_at_the_last_moment_is_still_seen(
        self, save_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        save = load(save_path).advance_by(60)
        filled = replacing._fill

        def meanwhile(descriptor: int, data: bytes) -> None:
            filled(descriptor, data)
            if data != WHOLE:  # the new file, not the backup
                save_path.write_bytes(b"another program's")

        monkeypatch.setattr(replacing, "_fill", meanwhile)
        with pytest.raises(ChangedUnderneath) as error:
            dump(save, save_path)
        assert save_path.read_bytes() == b"another program's"
        # the backup is the only copy of what was read: it stays, and is named
        (kept,) = backups(save_path)
        assert f"the backup {kept.path} holds what was read" in error.value.remedy
        assert pathlib.Path(kept.path).read_bytes() == WHOLE

    def test_what_only_examine_could_read_is_guarded_too(self, save_path: pathlib.Path) -> None:
        save_path.write_bytes(WHOLE[: 2_048 + 29])
        data, origin = read(save_path)
        plan = rtcsave.plan_repair(rtcsave.examine(data, origin=origin, now=NOW), now=NOW)
        repaired = plan.apply(also=["block-cut-short"])
        assert repaired.origin == origin
        save_path.write_bytes(WHOLE[: 2_048 + 30])
        with pytest.raises(ChangedUnderneath):
            dump(repaired, save_path)
        assert save_path.read_bytes() == WHOLE[: 2_048 + 30]

    @pytest.mark.skipif(not POSIX, reason="links need rights on this system")
    def test_a_link_stays_one_and_its_target_is_written(self, save_path: pathlib.Path) -> None:
        elsewhere = save_path.parent / "links"
        elsewhere.mkdir()
        link = elsewhere / "current.sav"
        link.symlink_to(save_path)
        written = dump(load(link).advance_by(60), link)
        assert link.is_symlink()
        assert save_path.read_bytes() != WHOLE
        assert written.backup == f"{save_path}.20260310T141500Z.bak"
        assert [file.name for file in elsewhere.iterdir()] == ["current.sav"]
        # what was read by its own name may be written by the link's, and is compared too
        dump(load(save_path).advance_by(60), link)

    def test_a_name_near_the_systems_limit(self, tmp_path: pathlib.Path) -> None:
        path = tmp_path / ("n" * 240)
        path.write_bytes(WHOLE)
        with pytest.raises(SystemFailed, match="no backup can be made"):
            dump(load(path).advance_by(60), path)
        assert path.read_bytes() == WHOLE
        dump(load(path).advance_by(60), path, backup=False)
        assert [file.name for file in tmp_path.iterdir()] == [path.name]

    def test_a_read_only_file_is_not_replaced(
        self, save_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(os, "access", lambda path, mode: False)
        with pytest.raises(SystemFailed, match="it is read-only"):
            dump(load(save_path), save_path)


class TestRestoring:
    def test_the_newest_comes_back(self, save_path: pathlib.Path, wall_clock: list[int]) -> None:
        dump(load(save_path).advance_by(60), save_path)
        second = save_path.read_bytes()
        wall_clock[0] += 1
        dump(load(save_path).advance_by(60), save_path)
        third = save_path.read_bytes()
        written = restore(save_path)
        assert written is not None
        assert save_path.read_bytes() == second
        assert written.backup == f"{save_path}.20260310T141501Z.replaced.bak"
        assert pathlib.Path(written.backup).read_bytes() == third
        # called again it goes one further back; what restore itself kept is never picked by itself
        assert restore(save_path) is not None
        assert save_path.read_bytes() == WHOLE
        assert save_path.stat().st_mtime == 1_700_000_000
        with pytest.raises(NoBackup, match="the file is its oldest backup already"):
            restore(save_path)
        assert restore(save_path, pick="ferry ledger.sav.20260310T141500Z.bak") is None
        assert restore(save_path, pick=written.backup) is not None
        assert save_path.read_bytes() == third

    def test_by_instant_then_by_number(self, save_path: pathlib.Path) -> None:
        for tail in ("20260310T141500Z-10", "20260310T141500Z-9", "20260309T235959Z-99"):
            save_path.with_name(f"{save_path.name}.{tail}.bak").write_bytes(tail.encode())
        restore(save_path)
        assert save_path.read_bytes() == b"20260310T141500Z-10"

    def test_a_file_that_was_lost_comes_back(self, save_path: pathlib.Path) -> None:
        dump(load(save_path).advance_by(60), save_path)
        save_path.unlink()
        written = restore(save_path)
        assert written is not None
        assert written.backup is None
        assert save_path.read_bytes() == WHOLE

    def test_a_folder_of_a_backups_name_is_none(self, save_path: pathlib.Path) -> None:
        save_path.with_name(save_path.name + ".20260310T141500Z.bak").mkdir()
        assert backups(save_path) == ()

    def test_a_file_too_large_for_a_save_is_replaced_and_kept(
        self, save_path: pathlib.Path
    ) -> None:
        dump(load(save_path).advance_by(60), save_path)
        save_path.write_bytes(bytes(3_000_000))
        written = restore(save_path)
        assert written is not None
        assert written.backup is not None
        assert pathlib.Path(written.backup).stat().st_size == 3_000_000
        assert save_path.read_bytes() == WHOLE

    def test_a_pick_that_is_no_name(self, save_path: pathlib.Path) -> None:
        for wrong in (7, "\ud800", ""):
            with pytest.raises(BadArgument, match="this is not a path"):
                restore(save_path, pick=wrong)  # type: ignore[arg-type]

    def test_nothing_to_restore(self, save_path: pathlib.Path) -> None:
        save_path.with_name("other.sav.20260310T141500Z.bak").write_bytes(b"not ours")
        save_path.with_name(save_path.name + ".old.bak").write_bytes(b"nor this")
        assert backups(save_path) == ()
        with pytest.raises(NoBackup, match="there is no backup"):
            restore(save_path)
        with pytest.raises(BadArgument, match="there is no backup of that name"):
            restore(save_path, pick="x.bak")
        assert save_path.read_bytes() == WHOLE
