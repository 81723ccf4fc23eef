"""`layouts`: the layouts that are known."""

from __future__ import annotations

import argparse

from rtcsave.cli.session import DONE, Session
from rtcsave.layouts import BUILT_IN

ABOUT = "the layouts of clock blocks that are known"
EXAMPLES = """\
examples:
  rtcsave layouts
  rtcsave layouts --json | jq -r .name
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The command has no arguments of its own."""


def run(session: Session) -> int:
    """Print every layout."""
    rows = []
    for one in BUILT_IN:
        where = "a file of its own" if one.alone else "behind the memory, or alone"
        rows.append((one.name, str(one.size), one.clock, one.summary, where))
        session.console.object(
            {
                "name": one.name,
                "size": one.size,
                "clock": one.clock,
                "alone": one.alone,
                "summary": one.summary,
            }
        )
    session.console.table(("layout", "bytes", "clock", "what it holds", "where"), rows)
    return DONE
