"""Draw docs/images/report.png: the first screen of the report on the invented season (chromium draws it)."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from shipwindow.advisory.report import make_report  # noqa: E402
from shipwindow.advisory.report.as_html import write_report  # noqa: E402
from shipwindow.advisory.report.made_up import write_season  # noqa: E402


def main() -> None:
    """Draw it."""
    from PIL import Image

    browser = shutil.which("chromium") or shutil.which("google-chrome")
    if browser is None:
        print("no chromium on the path: the picture was left as it was")
        return
    with tempfile.TemporaryDirectory() as folder:
        season, now = write_season(Path(folder) / "season")
        write_report(make_report(season, now), Path(folder))
        shot = Path(folder) / "shot.png"
        page = (Path(folder) / "report.html").as_uri()
        size = "--window-size=1280,560"
        command = [browser, "--headless", "--no-sandbox", "--hide-scrollbars", size, f"--screenshot={shot}", page]
        subprocess.run(command, check=True, capture_output=True)  # noqa: S603 - a fixed command on our own page
        few = Image.open(shot).convert("RGB").quantize(64, dither=Image.Dither.NONE)
        few.save(ROOT / "docs" / "images" / "report.png", optimize=True)


if __name__ == "__main__":
    main()
