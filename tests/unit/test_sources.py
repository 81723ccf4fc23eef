"""Each test of `tests/published` names its source, and the README lists every source that is named."""

from __future__ import annotations

import ast
import pathlib
from collections.abc import Iterator

import pytest

ROOT = pathlib.Path(__file__).parents[2]

# The titles by which sources are named; case and line ends do not matter.
SOURCES = (
    "Pan Docs",
    "Hardware measurements, public domain",
    "Common practice",
    "MSX2 Technical Handbook, ASCII Corp.",
    "the operating-system kernel's driver for the RP5C01",
    "Ricoh RP/RF/RS5C62 manual",
    "Epson RX8130CE application manual, ETM50E-07",
    "Epson RX8010SJ application manual, ETM37E-06",
    "Maxim AN632",
    "Maxim MAX6902 data sheet",
    "CTS TF20 series, document 008-0353-0 rev. C",
    "ST application note on serial real-time clocks",
    "Energizer Lithium Coin Handbook, form 12006-A",
    "NIST StRD, Norris",
    "NIST/SEMATECH e-Handbook",
    "statisticshowto.com, after Wilcox",
    'S. B. Moon, P. Skelly, D. Towsley, "Estimation and Removal of Clock Skew from Network Delay '
    'Measurements", INFOCOM 1999',
    'POSIX.1 "Seconds Since the Epoch"',
    "RFC 3339",
    "RFC 5545",
    "IANA time zone database",
)


def plain(text: str) -> str:
    """The text in lower case, with one space wherever it has white space."""
    return " ".join(text.split()).casefold()


def titles(text: str) -> set[str]:
    """The titles of SOURCES that a text names."""
    return {title for title in SOURCES if plain(title) in plain(text)}


def docstrings() -> Iterator[tuple[str, str]]:
    """Every test function of `tests/published`, also inside of classes, and its docstring."""
    for path in sorted((ROOT / "tests" / "published").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            is_function = isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
            if is_function and node.name.startswith("test"):
                yield f"{path.name}::{node.name}", ast.get_docstring(node) or ""


DOCSTRINGS = list(docstrings())


def test_the_tests_are_found() -> None:
    assert len(DOCSTRINGS) > 40


@pytest.mark.parametrize(
    "docstring", [pytest.param(docstring, id=name) for name, docstring in DOCSTRINGS]
)
def test_each_names_its_source(docstring: str) -> None:
    assert docstring, "it has no docstring"
    assert titles(docstring), "its docstring names none of SOURCES"


def test_the_readme_lists_every_source() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    listed = readme.partition("\n## Sources\n")[2].partition("\n## ")[0]
    named = set().union(*(titles(docstring) for _, docstring in DOCSTRINGS))
    missing = named - titles(listed)
    assert not missing, "not in the README's Sources: " + "; ".join(sorted(missing))
