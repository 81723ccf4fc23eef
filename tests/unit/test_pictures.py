"""The drawings are not stale: they are what the program draws today."""

from __future__ import annotations

import html
import pathlib
import re
import runpy

import pytest

PICTURES = pathlib.Path(__file__).parents[2] / "examples" / "pictures"
DRAWINGS = runpy.run_path(str(PICTURES / "drawings.py"))["DRAWINGS"]


def words(svg: str) -> list[str]:
    """What can be read in an SVG."""
    return [html.unescape(text) for text in re.findall(r"<text[^>]*>([^<]*)</text>", svg)]


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_a_drawing_is_what_the_program_draws(name: str) -> None:
    kept = (PICTURES / f"{name}.svg").read_text(encoding="utf-8")
    drawn = DRAWINGS[name]()
    assert words(drawn) == words(kept)
    assert len(words(kept)) > 5
    if name != "terminal":  # its frame is the library's that draws it, and may change with it
        assert drawn == kept


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_a_drawing_asks_nothing_of_the_net(name: str) -> None:
    kept = (PICTURES / f"{name}.svg").read_text(encoding="utf-8")
    assert re.findall(r"https?://[^\"\' )]+", kept.replace("http://www.w3.org/2000/svg", "")) == []
    assert "@font-face" not in kept


def test_the_drawing_of_three_years_is_counted() -> None:
    """512 days less the 120 at the beginning: 392, and 512 more; then 191 of the third year are left."""
    said = words((PICTURES / "three-years.svg").read_text(encoding="utf-8"))
    assert {"after 392 days", "after 904 days"} <= set(said)
    assert "It began at day 120 and shows day 191 with carry set." in said
