"""Run the commands the documents print, and put their real output back into the pages.

For: ``python docs/refresh.py`` in a checkout. A page holds a line ``<!-- output NAME -->`` and a fenced block below it;
the block is replaced by what the program says now. ``tests/test_docs.py`` fails when a page is stale. With chromium
on the path it also draws ``docs/images`` anew. Must not know: how an advisory is made.

The commands run on the bundled, invented forecasts, so that they need no network: the options for that are added here.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

DOCS = Path(__file__).parent
ROOT = DOCS.parent
FORECASTS = ROOT / "fixtures" / "demo-forecasts"
NOW = "2026-04-22T10:45Z"
PAGES = ("quickstart.md", "how-to-read-an-advisory.md", "how-to-set-up-lanes-and-boxes.md", "accepting-orders.md")
WIDTH = "88"
MARGIN = 16  # of the picture, in pixels


@dataclass(frozen=True)
class Run:
    """A command as the pages print it, and the code it ends with on the bundled forecasts."""

    command: str
    code: int = 0
    environment: tuple[tuple[str, str], ...] = ()


RUNS = {
    "demo": Run(".venv/bin/shipwindow demo", 3),
    "init": Run(".venv/bin/shipwindow init my-shop --origin 33125 --hub 27409"),
    "advise": Run(".venv/bin/shipwindow advise --shop my-shop --orders orders.csv --out advisories"),
    "check": Run(".venv/bin/shipwindow check 77007 --shop my-shop --cargo large-polyp-stony --value 300"),
    "check-later": Run(".venv/bin/shipwindow check 85719 --shop my-shop --on 2026-07-14"),
    "show": Run(".venv/bin/shipwindow forecasts show --shop my-shop 60614"),
    "save": Run(
        ".venv/bin/shipwindow forecasts save saved --shop my-shop --orders orders.csv",
        environment=(
            # the one command that always asks the service: here the bundled folder stands in for it
            ("SHIPWINDOW__SHOP__FORECAST__SOURCE", "files"),
            ("SHIPWINDOW__SHOP__FORECAST__FOLDER", str(FORECASTS)),
        ),
    ),
    "advise-saved": Run(".venv/bin/shipwindow advise --shop my-shop --orders orders.csv --forecasts saved"),
    "faults": Run(".venv/bin/shipwindow advise --shop faulty-shop --orders orders.csv", 2),
    "variable": Run(
        ".venv/bin/shipwindow advise --shop my-shop --orders orders.csv",
        2,
        (("SHIPWINDOW__SHOP__LIMITS__WITHIN", "5"),),
    ),
    "rows": Run(".venv/bin/shipwindow advise --shop my-shop --orders bad-orders.csv", 3),
}

# What a page shows of an output: the run, the start of the first line shown, and of the first line no longer shown.
SHOWN = {
    "demo-top": ("demo", "Lantern Bench", "Pack with heat"),
    "demo-list": ("demo", "Lantern Bench", "Forecast"),
    "demo-order": ("file", "A-110 to", "A-111 to"),
    "demo-condition": ("file", "A-107 to", "  Risk"),
    "demo-hold": ("file", "A-103 to", "A-104 to"),
    "demo-missing": ("file", "A-108 to", "A-109 to"),
    "demo-json": ("json", "", ""),
    "init": ("init", "", ""),
    "advise-list": ("advise", "My shop", ""),
    "check": ("check", "", "- Decision help"),
    "check-later": ("check-later", "", "- shares are counted"),
    "show": ("show", "Chicago", "  Forecast"),
    "faults": ("faults", "", ""),
    "variable": ("variable", "", ""),
    "rows": ("rows", "Problems in the orders", "Forecast"),
}

_FAULTY = (('#water = "78 degF"', "water = 78"), ("#cut-off =", "cutoff ="))
_BLOCK = re.compile(r"(<!-- output ([a-z-]+) -->\n```[a-z]*\n).*?(^```$)", re.DOTALL | re.MULTILINE)


def orders_of(page: str) -> str:
    """Give the orders file a page prints, fenced or indented."""
    lines = page.splitlines()
    first = next(i for i, line in enumerate(lines) if line.strip().startswith("order,destination"))
    rows = []
    for line in lines[first:]:
        if "," not in line:
            break
        rows.append(line.strip())
    return "\n".join(rows) + "\n"


def prepare(folder: Path) -> None:
    """Put beside the commands the orders they read."""
    (folder / "orders.csv").write_text(orders_of((DOCS / "quickstart.md").read_text(encoding="utf-8")), "utf-8")
    how_to = (DOCS / "how-to-set-up-lanes-and-boxes.md").read_text(encoding="utf-8")
    (folder / "bad-orders.csv").write_text(orders_of(how_to), "utf-8")


def execute(run: Run, folder: Path) -> tuple[int, str, str]:
    """Run a printed command in a folder, on the bundled forecasts; gives the code and what it said.

    In this process: starting a new one for each command would cost more than the commands.
    """
    from shipwindow.cli.app import main

    words = run.command.split()[1:]
    if words[0] != "init" and words[0] != "demo":
        words += ["--now", NOW]
        words += [] if {"--forecasts", "save"} & set(words) else ["--forecasts", str(FORECASTS)]
    out, err = io.StringIO(), io.StringIO()
    before, argv, stdin = dict(os.environ), sys.argv, sys.stdin
    kept = {name: value for name, value in before.items() if not name.startswith("SHIPWINDOW__")}
    _environment(kept | {"COLUMNS": WIDTH} | dict(run.environment))
    sys.argv, sys.stdin = ["shipwindow", *words], io.StringIO()  # not a terminal: nothing is asked
    code: object = 0
    try:
        with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as ended:
        code = ended.code
    finally:
        sys.argv, sys.stdin = argv, stdin
        _environment(before)
    return code if isinstance(code, int) else 0, out.getvalue(), err.getvalue()


def _environment(wanted: dict[str, str]) -> None:
    os.environ.clear()
    os.environ.update(wanted)


def outputs(folder: Path) -> dict[str, str]:
    """Run every command in its order; gives what each shows, and the first fixed keys of one order as JSON."""
    prepare(folder)
    said: dict[str, str] = {}
    for name, run in RUNS.items():
        if name == "faults":
            _spoil(folder / "my-shop", folder / "faulty-shop")
        code, out, err = execute(run, folder)
        if code != run.code:
            raise SystemExit(f"{run.command} ended with {code}, expected {run.code}\n{out}{err}")
        said[name] = out or err
    (file,) = (folder / "shipwindow-demo").glob("*/advisory.txt")
    said["file"] = file.read_text(encoding="utf-8")
    said["json"] = _one_order(file.with_suffix(".json"))
    return said


def _spoil(good: Path, bad: Path) -> None:
    shutil.copytree(good, bad, ignore=shutil.ignore_patterns("*.db*"))
    text = (bad / "shop.toml").read_text(encoding="utf-8")
    for before, after in _FAULTY:
        if before not in text:
            raise SystemExit(f"no {before} in the starter any more: correct _FAULTY")
        text = text.replace(before, after)
    (bad / "shop.toml").write_text(text, encoding="utf-8")


def _one_order(file: Path) -> str:
    order = next(one for one in json.loads(file.read_text("utf-8"))["orders"] if one["order"] == "A-110")
    return json.dumps({key: value for key, value in order.items() if key != "details"}, indent=1, ensure_ascii=False)


def cut(text: str, start: str, stop: str) -> str:
    """Take the lines from the one that begins with ``start`` to the one before ``stop``, without blank ends."""
    lines = [line.rstrip() for line in text.splitlines()]
    first = next(i for i, line in enumerate(lines) if line.startswith(start))
    rest = range(first + 1, len(lines))
    last = next((i for i in rest if lines[i].startswith(stop)), len(lines)) if stop else len(lines)
    return "\n".join(lines[first:last]).strip("\n")


def with_outputs(page: str, said: dict[str, str]) -> str:
    """Give a page with every shown output renewed."""

    def renew(found: re.Match[str]) -> str:
        run, start, stop = SHOWN[found.group(2)]
        return f"{found.group(1)}{cut(said[run], start, stop)}\n{found.group(3)}"

    return _BLOCK.sub(renew, page)


def draw(out: Path, browser: str) -> None:
    """Draw the plot of one order, and the page as a picture: the list beside one order."""
    from PIL import Image

    from shipwindow.advisory.as_json import from_json
    from shipwindow.advisory.plots import plot_svg

    (page,) = out.glob("*/advisory.html")
    advisory = from_json(page.with_suffix(".json").read_text(encoding="utf-8"))
    place = next(i for i, order in enumerate(advisory.orders) if order.order == "A-106")
    svg = plot_svg(advisory.orders[place], advisory.details.scale)
    (DOCS / "images" / "plot.svg").write_text(svg, encoding="utf-8")
    shot = out / "page.png"
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--force-device-scale-factor=1.25"]
    size = ["--window-size=640,20000", f"--screenshot={shot}", page.resolve().as_uri()]
    subprocess.run([browser, *options, *size], check=True, capture_output=True)  # noqa: S603 - found on the path
    picture = Image.open(shot).convert("RGB")
    paper, sheet = picture.getpixel((2, 2)), (255, 255, 255)
    middle = [picture.getpixel((picture.width // 2, y)) for y in range(picture.height)]
    # a white sheet for each order: its top is where paper, one or two rows of border, then white follow
    tops = [y for y in range(3, len(middle)) if middle[y] == sheet and paper in middle[y - 3 : y - 1]]
    tops = [y for y in tops if middle[y - 1] != sheet]
    ends = [y for y in range(3, len(middle) - 3) if middle[y] == sheet and paper in middle[y + 1 : y + 4]]
    lists = (
        next(y for y in range(tops[0] - 1, 0, -1) if middle[y] == (34, 48, 58)) - 10
    )  # the rule over "Order by order"
    top = tops[place] - 3
    bottom = min(next(y for y in ends if y > tops[place]) + 4, top + lists)
    wide, high = picture.width, max(lists, bottom - top)
    both = Image.new("RGB", (2 * wide - MARGIN, high), paper)
    both.paste(picture.crop((0, 0, wide, lists)), (0, 0))
    both.paste(picture.crop((MARGIN, top, wide, bottom)), (wide, MARGIN))
    few = both.quantize(palette=_palette(), dither=Image.Dither.NONE)
    few.save(DOCS / "images" / "advisory.png", optimize=True)


Colour = tuple[int, int, int]


def _mixed(one: Colour, other: Colour, share: float) -> Colour:
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(one, other, strict=True))
    return red, green, blue


def _palette() -> Image.Image:
    """Give the page's own colours, and their mixes at the edges of letters and lines."""
    from PIL import Image

    ink, quiet, cold, warm = (34, 48, 58), (91, 103, 112), (43, 108, 163), (199, 105, 26)
    grounds = ((251, 250, 246), (255, 255, 255), (233, 230, 220), (207, 210, 212), (188, 188, 180), (213, 217, 214))
    mixes = [(ink, ground, 10) for ground in grounds[:3]] + [(quiet, ground, 6) for ground in grounds[:2]]
    mixes += [(line, ground, 5) for line in (cold, warm) for ground in grounds[:4]]
    found: set[Colour] = {ink, *grounds}
    found |= {_mixed(line, ground, step / steps) for line, ground, steps in mixes for step in range(steps)}
    image = Image.new("P", (1, 1))
    image.putpalette([value for colour in sorted(found) for value in colour])
    return image


def renew_all() -> None:
    """Renew the pages, and the pictures where a browser is installed."""
    with tempfile.TemporaryDirectory() as folder:
        said = outputs(Path(folder))
        for name in PAGES:
            page = DOCS / name
            old = page.read_text(encoding="utf-8")
            new = with_outputs(old, said)
            if new != old:
                page.write_text(new, encoding="utf-8")
                print(f"renewed {name}")
        browser = shutil.which("chromium") or shutil.which("google-chrome") or shutil.which("chrome")
        if browser is None:
            print("no chromium on the path: pictures left as they were")
            return
        draw(Path(folder) / "shipwindow-demo", browser)
        print("drew images/plot.svg and images/advisory.png")


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    renew_all()
