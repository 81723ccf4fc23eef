"""Every sentence that the program can print, collected from its source into one list:

    python tests/messages.py > tests/messages.txt

A test compares the two, so that each change of wording shows. What is filled in stands as `{}`.
"""

from __future__ import annotations

import ast
import pathlib
from collections.abc import Iterator

PACKAGE = pathlib.Path(__file__).parents[1] / "rtcsave"


def template(node: ast.expr) -> str | None:
    """The text of a string or of a formatted one; None for anything else."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        parts = (part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
        return "".join(map(str, parts))
    return None


def texts(tree: ast.AST) -> Iterator[str]:
    """The strings of a module that are sentences, or parts of some; docstrings are not among them."""
    skipped: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr):
            skipped.add(node.value)
        if isinstance(node, ast.JoinedStr):
            skipped.update(part for part in node.values if isinstance(part, ast.Constant))
        if node in skipped or not isinstance(node, ast.expr):
            continue
        text = template(node)
        if text is not None and " " in text.strip() and any(map(str.isalpha, text)):
            yield " ".join(text.split())


def messages() -> list[str]:
    """All of them, sorted, each once."""
    found: set[str] = set()
    for path in PACKAGE.rglob("*.py"):
        found.update(texts(ast.parse(path.read_text(encoding="utf-8"))))
    return sorted(found)


if __name__ == "__main__":
    print("\n".join(messages()))
