"""What every test of the command shares."""

from __future__ import annotations

import pytest

from rtcsave.storage import looking


@pytest.fixture(autouse=True)
def _files_are_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that a test has just written is not being written by another program."""
    monkeypatch.setattr(looking, "RECENT_S", 0)
