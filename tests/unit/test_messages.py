"""The messages are those that were read and agreed on; words that are said in another way are not in them."""

from __future__ import annotations

import pathlib
import re

import pytest
from messages import messages

KEPT = (pathlib.Path(__file__).parents[1] / "messages.txt").read_text(encoding="utf-8").splitlines()


def test_every_message_is_in_the_list() -> None:
    """Where this fails, read the new sentences aloud; then: python tests/messages.py > tests/messages.txt"""
    assert messages() == KEPT


@pytest.mark.parametrize(
    "pattern",
    [
        r"\w\(s\)", r"\b1 (?:step|byte|file|save|day|time)s\b", r"gone.over",
        r"\bgoes.over\b", r"counted.on\b", r"\bsurely\b",
        r"\bno.use\b", r"what.shall.become", r"\bthe.console\b", r"\bmended\b", r"digits.that.are.none",
    ],
)  # fmt: skip
def test_words_that_are_said_in_another_way(pattern: str) -> None:
    assert [text for text in KEPT if re.search(pattern, text)] == []
