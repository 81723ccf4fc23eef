"""Make the drawings, and the pictures of the survey's page, light and dark, with a headless Chromium.

python examples/pictures/make_pictures.py
"""

from __future__ import annotations

import pathlib
import shutil
import subprocess
import sys
import tempfile

from drawings import DRAWINGS

HERE = pathlib.Path(__file__).parent
NOW = "2026-10-01T12:00:00Z"


def main() -> int:
    """Draw what is drawn, survey the example saves, and take a picture of the page in both themes."""
    for name, draw in DRAWINGS.items():
        (HERE / f"{name}.svg").write_text(draw(), encoding="utf-8", newline="\n")
    browser = shutil.which("chromium")
    if browser is None:
        sys.exit("make_pictures: there is no chromium")
    with tempfile.TemporaryDirectory() as folder:
        page = pathlib.Path(folder) / "shelf.html"
        words = [
            sys.executable,
            "-m",
            "rtcsave",
            "survey",
            "saves",
            "--now",
            NOW,
            "--html",
            str(page),
        ]
        subprocess.run(words, cwd=HERE.parent, check=True, stdout=subprocess.DEVNULL)
        for theme, setting in (("light", 1), ("dark", 0)):
            target = HERE / f"survey-{theme}.png"
            subprocess.run(
                [
                    browser,
                    "--headless",
                    "--no-sandbox",
                    "--disable-gpu",
                    "--hide-scrollbars",
                    "--window-size=1000,1200",
                    f"--blink-settings=preferredColorScheme={setting}",
                    f"--screenshot={target}",
                    page.as_uri(),
                ],
                check=True,
                stderr=subprocess.DEVNULL,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
