"""What a survey has seen so far, in numbers, and what that means for its exit code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from rtcsave.cli.codes import DONE, FAILED, FOUND, INTERRUPTED
from rtcsave.cli.console import MOST_NAMED, Console, complain, first_few
from rtcsave.collection import SurveyRow
from rtcsave.errors import number_of
from rtcsave.findings import SEVERITIES, Severity, rank_of


class Tally:
    """Numbers of the rows so far: counted row by row, printed at the end."""

    def __init__(
        self, severity: Severity | None, fail_on: Severity | None, named: frozenset[str]
    ) -> None:
        self._least = rank_of(severity)
        self._fail_on = len(SEVERITIES) + 1 if fail_on is None else rank_of(fail_on)
        self._named = named
        self._worst = 0
        self._by_severity: Counter[str] = Counter()
        self._is_whole = False
        self._named_failed = False
        self._passed: list[str] = []
        self._passed_count = 0

    @property
    def is_whole(self) -> bool:
        """Whether all rows went by."""
        return self._is_whole

    def pass_over(self, path: str) -> None:
        """Count a file in a folder that is no save."""
        self._passed_count += 1
        if len(self._passed) < MOST_NAMED:
            self._passed.append(path)

    def counted(self, rows: Iterator[SurveyRow]) -> Iterator[SurveyRow]:
        """The rows that are to be shown; Ctrl-C ends them."""
        try:
            for row in rows:
                worst = row.worst
                rank = rank_of(worst)
                self._worst = max(self._worst, rank)
                self._by_severity[worst or "healthy"] += 1
                if row.error is not None and row.path in self._named:
                    self._named_failed = True
                if rank >= self._least:
                    yield row
            self._is_whole = True
        except KeyboardInterrupt:
            return

    def end(self, console: Console | None) -> int:
        """Print the numbers, on standard error if there is no terminal; return the exit code."""
        count = sum(self._by_severity.values())
        parts = [f"{self._by_severity['healthy']:,} healthy"]
        for severity in reversed(SEVERITIES):
            if self._by_severity[severity]:
                parts.append(
                    f"{self._by_severity[severity]:,} with {_ARTICLE[severity]} {severity}"
                )
        files = "1 file" if count == 1 else f"{count:,} files"
        said = f"{files}: {', '.join(parts)}" if count else "no save was found"
        if not self._is_whole:
            said = f"stopped; this is not all. So far {said}"
        if console is None or not count:
            complain(said)
        else:
            console.line(said)
        say_passed(self._passed, self._passed_count)
        if not self._is_whole:
            return INTERRUPTED
        if self._named_failed or not count:
            return FAILED
        return FOUND if self._worst >= self._fail_on else DONE


def say_passed(paths: Sequence[str], count: int) -> None:
    """Say how many files were passed over in folders, with the first few: one may be a cut-off save."""
    if count:
        files = number_of(count, "file")
        complain(
            f"passed over {files}, by length and content no save: {first_few(paths, count)}; "
            "'rtcsave check FILE' says more of one"
        )


_ARTICLE: Final = {"note": "a", "warning": "a", "error": "an"}
