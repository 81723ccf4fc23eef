"""What every test of the command shares."""

from __future__ import annotations

import pytest

from rtcsave.storage import looking


@pytest.fixture(autouse=True)
def _files_are_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """Do not wait for another writer of a file that the test has just written."""
    monkeypatch.setattr(looking, "RECENT_S", 0)
