"""The page of a survey: everything escaped, nothing from elsewhere, readable, and it works in a browser."""

from __future__ import annotations

import html
import json
import pathlib
import random
import re
import shutil
import struct
import subprocess

import pytest
from collections_made import healthy

import rtcsave
from rtcsave import survey
from rtcsave.cli.main import main
from rtcsave.report.shelf_page import TEMPLATE, shelf_page
from rtcsave.strategies import NOW

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(BROWSER is None, reason="there is no headless browser")
SAVES = pathlib.Path(__file__).parents[2] / "examples" / "saves"


def page(*folders: pathlib.Path) -> str:
    return shelf_page(list(survey(folders or (SAVES,), now=NOW, ordered=True)), NOW).decode()


@pytest.fixture(scope="module")
def text() -> str:
    return page()


def test_it_says_the_numbers_and_each_save(text: str) -> None:
    assert "<h1>Survey of 33 saves</h1>" in text
    assert "As of 2026-10-01 12:00:00 UTC." in text
    for name in SAVES.glob("*.sav"):
        assert str(name) in text
    assert "error: stamp-milliseconds" in text
    assert "the stamp counts milliseconds" in text
    assert "<li>2027-01: 14</li>" in text


def test_nothing_comes_from_elsewhere(text: str) -> None:
    assert "default-src &#39;none&#39;" in text or "default-src 'none'" in text
    assert not re.search(r"https?://|url\(|@import|<link|<img|src=", text)


def test_every_text_from_a_file_is_escaped(tmp_path: pathlib.Path) -> None:
    bad = "<script>alert(1)</script>\"'&{{ 7*7 }}.sav"
    name = bad.replace("/", "\u2215")
    (tmp_path / name).write_bytes(healthy())
    (tmp_path / "\x1b[2J\u202e.sav").write_bytes(healthy())
    text = page(tmp_path)
    assert "<script>alert" not in text
    assert text.count("<script>") == 1
    assert (
        html.escape(name, quote=True).replace("&#x27;", "&#39;").replace("&quot;", "&#34;") in text
    )
    assert "{{ 7*7 }}" in text
    assert "\x1b" not in text
    assert "\u202e" not in text


def colours(theme: str) -> dict[str, str]:
    css = TEMPLATE.read_text(encoding="utf-8")
    blocks = re.findall(r":root \{([^}]*--paper: #[^}]*--bar[^}]*)\}", css)
    return dict(re.findall(r"--(\w+): (#\w{6})", blocks[theme == "dark"]))


def luminance(colour: str) -> float:
    """The relative luminance of a colour (W3C, WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_contrast_is_enough(theme: str) -> None:
    # W3C, WCAG 2.2, 1.4.3: 4.5 to 1 for text; 1.4.11: 3 to 1 for parts of a picture
    palette = colours(theme)
    paper = luminance(palette.pop("paper"))
    for name, colour in palette.items():
        if name == "line":
            continue
        light, dark = sorted((paper, luminance(colour)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= (3.0 if name == "bar" else 4.5), (theme, name)


def in_browser(folder: pathlib.Path, text: str, code: str, width: int = 1000) -> object:
    """What a script gives when it runs in the page, in a frame of that width; no error may be logged."""
    assert BROWSER is not None
    script = (
        f"<script>parent.postMessage(JSON.stringify((function () {{ {code} }}())), '*');</script>"
    )
    (folder / "page.html").write_text(text.replace("</body>", f"{script}</body>"), encoding="utf-8")
    (folder / "frame.html").write_text(
        f'<iframe src="page.html" width="{width}" height="900"></iframe><pre id="result"></pre><script>'
        "addEventListener('message', function (event) {"
        "document.getElementById('result').textContent = event.data; });</script>"
    )
    done = subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr",
         f"--user-data-dir={folder / 'profile'}", "--virtual-time-budget=10000", "--dump-dom",
         (folder / "frame.html").as_uri()],
        capture_output=True, encoding="utf-8", timeout=120, check=True,
    )  # fmt: skip
    assert "CONSOLE" not in done.stderr, done.stderr
    result = re.search(r'<pre id="result">(.*?)</pre>', done.stdout, re.S)
    assert result is not None
    return json.loads(html.unescape(result[1]))


_VISIBLE = (
    "var rows = Array.from(document.querySelectorAll('tbody tr')).filter(function (r) "
    "{ return !r.hidden; });"
)


@needs_browser
class TestInABrowser:
    def test_filtering(self, tmp_path: pathlib.Path, text: str) -> None:
        code = (
            "var words = document.getElementById('words'); words.value = 'STAMP-';"
            "words.dispatchEvent(new Event('input'));" + _VISIBLE + "var first = rows.length;"
            "words.value = ''; var least = document.getElementById('least'); least.value = '3';"
            "least.dispatchEvent(new Event('change'));"
            + _VISIBLE
            + "return [first, rows.length, document.getElementById('shown').textContent];"
        )
        assert in_browser(tmp_path, text, code) == [7, 12, "12 of 33 shown"]

    def test_sorting_by_a_button(self, tmp_path: pathlib.Path, text: str) -> None:
        code = (
            "var heads = document.querySelectorAll('thead th button'); heads[3].click();"
            "var up = document.querySelector('tbody tr').cells[3].textContent;"
            "var aria = document.querySelectorAll('thead th')[3].getAttribute('aria-sort');"
            "heads[0].click(); heads[0].click();"
            "return [up, aria, document.querySelector('tbody tr').cells[0].textContent.slice(-12)];"
        )
        assert in_browser(tmp_path, text, code) == ["94", "ascending", "workshop.sav"]

    @pytest.mark.parametrize("width", [400, 700, 1400])
    def test_nothing_overflows(self, tmp_path: pathlib.Path, text: str, width: int) -> None:
        code = "var d = document.documentElement; return d.scrollWidth - d.clientWidth;"
        assert in_browser(tmp_path, text, code, width) == 0

    def test_without_a_script_all_is_there(self, text: str) -> None:
        body = re.sub(r"<script>.*?</script>", "", text, flags=re.S)
        assert body.count("<tr data-rank=") == 33
        assert '<div class="controls" hidden>' in body


def test_ten_thousand_rows(tmp_path: pathlib.Path) -> None:
    chance = random.Random(3)
    for at in range(500):
        words = (1, 2, 3, chance.randrange(250), 0)
        block = struct.pack("<10Iq", *words, *words, NOW - chance.randrange(10**7))
        (tmp_path / f"copy {at}.sav").write_bytes(chance.randbytes(512) + block)
    rows = list(survey(tmp_path, now=NOW)) * 20
    made = shelf_page(rows, NOW)
    assert made.count(b"<tr data-rank=") == 10_000
    assert len(made) < 6_000_000


def test_the_command(tmp_path: pathlib.Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "shelf.html"
    words = ["survey", "--now", f"@{NOW}", str(SAVES), "--html", str(target)]
    assert main(words) == 0
    printed = capsys.readouterr()
    assert f"the page: {target}" in printed.err
    made = target.read_text(encoding="utf-8")
    assert "rtcsave repair --also" in html.unescape(made)  # remedies as the command says them
    assert "`also=" not in made
    target.write_text("mine")
    assert main(words) == 4
    assert target.read_text() == "mine"
    assert main([*words, "--overwrite"]) == 0
    assert target.read_text(encoding="utf-8") == made


def test_each_cartridge_by_its_own_register_and_series(tmp_path: pathlib.Path) -> None:
    folder = tmp_path / "dumps"
    folder.mkdir()
    for month, day in ((8, 0), (9, 30)):
        (folder / f"tide 2026-{month:02}-01.sav").write_bytes(
            healthy(saved_s=NOW - (60 - day) * 86_400, day=12 + day)
        )
    register = tmp_path / "register.csv"
    register.write_text(
        "file,title,cell,fitted,current_ua,rate_ppm\n"
        "dumps/tide 2026-09-01.sav,Tide <Clerk>,CR2025,2024-05-01,1.1,50\n"
    )
    target = tmp_path / "shelf.html"
    words = ["survey", "--now", f"@{NOW}", str(folder), "--shelf", str(register)]
    assert main([*words, "--html", str(target)]) == 0
    text = html.unescape(target.read_text(encoding="utf-8"))
    assert "Tide &lt;Clerk&gt;" in target.read_text(encoding="utf-8")
    assert '<td data-label="Change the cell by">2038-12</td>' in text
    assert "Never solder to the bare cell" in text
    assert "tide (2 dumps): +0.0" in text or "tide (2 dumps): -0.0" in text


def test_an_empty_survey() -> None:
    assert "Survey of 0 saves" in shelf_page([], NOW).decode()
    row = rtcsave.SurveyRow(
        path="a", error="it cannot be read", error_name="SystemFailed", now_s=NOW
    )
    assert "error: it cannot be read" in shelf_page([row], NOW).decode()
