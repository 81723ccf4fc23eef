"""One run of the command: its files, its present, its layout, and how its errors become codes."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Generic, TypeVar

from rtcsave.cli.codes import DONE, FAILED, error_json, exit_code
from rtcsave.cli.console import Console, OutputLost, complain, silence_output
from rtcsave.cli.given import CommonOptions, WritingOptions
from rtcsave.cli.options import in_options
from rtcsave.cli.paths import STREAM, quoted, same_place
from rtcsave.errors import BadArgument, FileFault, Refused, RtcSaveError, SystemFailed, TooLarge
from rtcsave.layouts import BUILT_IN, Layout, layout_named
from rtcsave.savefile import Origin, SaveFile, loads
from rtcsave.storage.described import gather_layouts, read_layout
from rtcsave.storage.reading import decode, read, read_only, read_text
from rtcsave.storage.system import system_failed
from rtcsave.units import LARGEST_FILE_BYTES
from rtcsave.when import now_or, parse_instant, say_instant

if TYPE_CHECKING:
    from rtcsave.drift import Observation

FILE_TIME: Final = "file-time"

O_co = TypeVar("O_co", bound=CommonOptions, covariant=True)


def _refused(error: OSError, path: str) -> SystemFailed:
    """The error of the system that nothing else has dressed."""
    return system_failed(error, "the system refused", path)


class Session(Generic[O_co]):
    """What every command works with."""

    def __init__(self, args: O_co) -> None:
        self.args: O_co = args
        writing = args if isinstance(args, WritingOptions) else None
        self.writes: bool = writing is not None
        self._changes_its_input = writing is not None and not writing.dry_run
        self.worst: int = DONE
        self.has_written: bool = False
        to_stream = writing is not None and writing.output == STREAM
        if to_stream and args.json:
            raise BadArgument("--json and '-o -' both want standard output", remedy="leave one out")
        self.console: Console = Console(as_json=args.json, only_errors=to_stream)
        self.now_s: int = now_or(None) if args.now is None else parse_instant(args.now)
        self.also_layouts: tuple[Layout, ...] = self._users_layouts()
        self.layout: Layout | None = None if args.layout is None else self.layout_of(args.layout)

    def _users_layouts(self) -> tuple[Layout, ...]:
        """The layouts of the user's own folder; one that is wrong is complained of and left out.

        A folder that cannot be read is no error here: the error comes where a layout of it is needed.
        """
        try:
            layouts, problems = gather_layouts()
        except SystemFailed as error:
            complain(f"rtcsave: {error}; your own layouts are left out")
            return ()
        for problem in problems:
            complain(f"rtcsave: {problem}; this layout is left out")
        return layouts

    @property
    def known_layouts(self) -> tuple[Layout, ...]:
        """The layouts beside the built-in ones: the user's own, and the one that was named."""
        named = (self.layout,) if self.layout is not None else ()
        built_in = {layout.name for layout in (*BUILT_IN, *self.also_layouts)}
        return (*self.also_layouts, *(layout for layout in named if layout.name not in built_in))

    def layout_of(self, named: str) -> Layout:
        """A layout by its name, or by the file that describes it."""
        known = {layout.name for layout in (*BUILT_IN, *self.also_layouts)}
        if named not in known and (named.lower().endswith(".toml") or os.sep in named):
            return read_layout(named)
        if named not in known and os.path.exists(f"{named}.toml"):
            raise BadArgument(
                "unknown layout", found=repr(named), remedy=f"did you mean the file {named}.toml?"
            )
        return layout_named(named, self.also_layouts)

    def instant(self, text: str) -> int:
        """The instant that was typed; `now` is the run's own present."""
        return parse_instant(text, self.now_s)

    def read(self, path: str) -> tuple[bytes, Origin | None]:
        """The bytes of a file, or of standard input, which has no origin."""
        if path != STREAM:
            if self._changes_its_input:
                from rtcsave.storage.looking import wait_until_quiet  # only here: loaded by need

                wait_until_quiet(path, complain if sys.stderr.isatty() else None)
            return read(path) if self.writes else read_only(path)
        if sys.stdin is None:
            raise SystemFailed("standard input is closed")
        try:
            data = sys.stdin.buffer.read(LARGEST_FILE_BYTES + 1)
        except OSError as error:
            raise system_failed(error, "standard input cannot be read", "") from error
        if len(data) > LARGEST_FILE_BYTES:
            raise TooLarge(
                "standard input is too large for a save",
                expected=f"at most {LARGEST_FILE_BYTES:,} bytes",
            )
        return data, None

    def read_text(self, path: str) -> str:
        """The text of a file, or of standard input."""
        if path != STREAM:
            return read_text(path)
        return decode(self.read(path)[0], "standard input")

    def load(self, path: str) -> SaveFile:
        """The save in a file or on standard input, by the layout that was named, if any."""
        data, origin = self.read(path)
        try:
            return self.loads(data, origin)
        except FileFault as fault:
            self.point_to_check(path, data, fault)
            raise

    def point_to_check(self, path: str, data: bytes, fault: FileFault) -> None:
        """Name `check` as the next step for a file that it understands, though no command loads it."""
        from rtcsave.findings import examine

        seen = examine(data, self.layout, self.also_layouts, now=self.now_s)
        if seen.findings:
            layout = "" if self.args.layout is None else f" --layout {quoted(self.args.layout)}"
            fault.remedy = (
                f"to see what is wrong and what helps, type: rtcsave check {quoted(path)}{layout}"
            )

    def observations(self, path: str) -> tuple[Observation, ...]:
        """The observations in a log; an error names the file and the line."""
        from rtcsave.drift import observations_in

        try:
            return observations_in(self.read_text(path))
        except BadArgument as error:
            error.where = f"{path}, {error.where}" if error.where else path
            raise

    def loads(self, data: bytes, origin: Origin | None) -> SaveFile:
        """The save in bytes that were read."""
        return replace(loads(data, self.layout, self.also_layouts, self.now_s), origin=origin)

    def load_all(self, paths: list[str]) -> list[SaveFile] | None:
        """The saves in several files that belong together; None, and `worst` set, if one fails."""
        saves: list[SaveFile] = []

        def work(path: str) -> int:
            saves.append(self.load(path))
            return DONE

        self.worst = self.each(paths, work)
        return saves if len(saves) == len(paths) else None

    def saved_at(self, text: str | None, save: SaveFile, path: str) -> int | None:
        """What `--saved-at` says for one save, in Unix seconds.

        The file's time is refused where a usable stamp says when the save was written: a file that was
        copied or touched would lose years.
        """
        saved_at_s = self.saved_at_of(text, save.origin, path)
        stamped_s = None if save.block is None else save.block.usable_unix_s
        if text == FILE_TIME and stamped_s is not None:
            raise Refused(
                "the file's time is not taken where the stamp says when the save was written",
                found=f"stamp {say_instant(stamped_s)}, file time {say_instant(saved_at_s or 0)}",
                remedy="leave --saved-at out, or give it an instant if the stamp is wrong",
            )
        return saved_at_s

    def saved_at_of(self, text: str | None, origin: Origin | None, path: str) -> int | None:
        """What `--saved-at` says for a file, in Unix seconds, whatever its stamp says."""
        if text is None:
            return None
        if text != FILE_TIME:
            return self.instant(text)
        if origin is None:
            raise BadArgument(
                "there is no file whose time could be taken",
                found="standard input" if path == STREAM else path,
                remedy="say --saved-at with an instant",
            )
        return origin.modified_s

    def each(self, paths: Iterable[str], work: Callable[[str], int]) -> int:
        """Do the work for every path; a failure does not stop the others. Return the highest code."""
        worst = DONE
        for path in paths:
            self.has_written = False
            try:
                code = self._one(path, work)
            except OutputLost as lost:
                if not self.writes:
                    raise
                code = self._output_lost(path, lost.error)
            worst = max(worst, code)
        return worst

    def _one(self, path: str, work: Callable[[str], int]) -> int:
        """Do the work for one path, and report its error."""
        try:
            return work(path)
        except RtcSaveError as error:
            return self.failed(path, error)
        except OSError as error:
            return self.failed(path, _refused(error, path))

    def _output_lost(self, path: str, error: OSError) -> int:
        """Go on without an output that broke: a batch that writes is not left half done."""
        silence_output()
        if isinstance(error, BrokenPipeError):
            return DONE
        what = "it was written" if self.has_written else "nothing was written"
        reason = system_failed(error, "the output cannot be written", "").what
        complain(f"rtcsave: {path}: {what}, but the account of it could not be printed: {reason}")
        return FAILED

    def pair(self, first: str, second: str, work: Callable[[SaveFile, SaveFile], int]) -> int:
        """Do one piece of work over two saves that belong together."""
        loaded = self.load_all([first, second])
        if loaded is None:
            return self.worst
        return self.guarded(second, lambda: work(loaded[0], loaded[1]), (first, second))

    def guarded(self, path: str, work: Callable[[], int], others: Iterable[str] = ()) -> int:
        """Do one piece of work over several files; an error names `path`, or which of the others."""
        try:
            return work()
        except OSError as error:
            problem = error if isinstance(error, RtcSaveError) else _refused(error, path)
            return self.failed(path, problem)
        except RtcSaveError as error:
            named = next((other for other in others if same_place(other, error.where)), path)
            return self.failed(named, error)

    def failed(self, path: str, error: RtcSaveError) -> int:
        """Report an error for one path; its exit code."""
        shown = in_options(str(error))
        if same_place(path, error.where):
            shown = shown.replace(f", {error.where}", "", 1)
        complain(f"rtcsave: {'standard input' if path == STREAM else path}: {shown}")
        self.console.object(error_json(path, error, shown))
        return exit_code(error)
