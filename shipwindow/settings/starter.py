"""Write a shop folder to start from: what only the shop knows, filled in; every default beside it, commented out.

For: ``shipwindow init``. The documented defaults are rewritten line by line: a record becomes its plain value
behind ``#``, so that a seller uncomments a line and changes it. Table headers stay, they change nothing.
Must not know: how settings are read. Neighbours: ``packed`` (the defaults), ``load`` (reads the result).
"""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

from shipwindow.errors import ConfigError
from shipwindow.places import find_place
from shipwindow.settings.packed import config_folder
from shipwindow.settings.shape import FILES
from shipwindow.store import write_atomically

_KEY = re.compile(r"^[A-Za-z0-9_-]+ = ")
_HEAD = """# {title}
# Lines that start with "#" and a key hold the default: take the "#" away and change the value.
# A line such as  box-6x6x6 = false  under [box] drops an entry you do not use.

"""
_TITLES = {
    "shop": "Your shop. The three lines under [shop] are yours; everything else has a default.",
    "lanes": "Lanes. The hub's place is yours; everything else has a default.",
    "cargo": "Animals.",
    "boxes": "Boxes and bags.",
    "packs": "Heat packs, cold packs and plans.",
    "rules": "Rules of thumb and doubts.",
    "desk": "The desk: order book, box fit, money, sheets, messages, claims.",
    "service": "The service: mornings that run by themselves, mail, the web desk.",
    "learn": "Learning: arrivals, loggers, what is fitted from them.",
}


def write_starter(folder: Path, origin: str, hub: str, contact: str | None = None, name: str = "My shop") -> None:
    """Write the files of a shop folder; an interrupted run can simply be repeated.

    Parameters
    ----------
    folder : Path
        Made if need be; must not hold a shop yet.
    origin, hub : str
        Places as ``find_place`` reads them.
    contact : str or None
        Address for the weather service's operators.
    name : str
        The shop's name, as it heads the advisory.

    Raises
    ------
    ConfigError
        The folder holds a shop already, or other files of those names.
    PlaceError
        Origin or hub is no place.
    StoreError
        The folder cannot be written.
    """
    find_place(origin)
    find_place(hub)
    if folder.exists() and not folder.is_dir():
        raise ConfigError(f"{folder} is a file", "a folder to fill", "choose another name")
    if (folder / "shop.toml").exists():
        raise ConfigError(f"{folder / 'shop.toml'} exists", "a folder without a shop", "choose another folder")
    active = {
        ("shop", "[shop]"): {"name": name, "place": origin, "contact": contact or ""},
        ("lanes", "[hub.main]"): {"place": hub},
    }
    texts = {stem: starter_text(stem, {h: k for (s, h), k in active.items() if s == stem}) for stem in FILES}
    for stem, text in texts.items():
        file = folder / f"{stem}.toml"
        if file.exists() and file.read_bytes() != text.encode():
            do = "choose another folder, or move the file away"
            raise ConfigError(f"{file} exists and is not a starter's", "a folder without settings", do)
    # shop.toml last: a folder without it is not a shop yet, so a killed run leaves nothing that looks finished.
    for stem in (*[each for each in FILES if each != "shop"], "shop"):
        write_atomically(folder / f"{stem}.toml", texts[stem])


def starter_text(stem: str, active: dict[str, dict[str, str]]) -> str:
    """Rewrite one file of the documented defaults with its keys commented out.

    Parameters
    ----------
    stem : str
        File name without ``.toml``.
    active : dict
        For a table header such as ``[shop]``, the keys to fill in under it.
    """
    lines: list[str] = []
    waiting: dict[str, str] = {}
    body = (config_folder() / f"{stem}.toml").read_text(encoding="utf-8")
    for line in body.splitlines():
        if waiting and not line.startswith("#"):
            lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in waiting.items()]
            waiting = {}
        lines.append(_commented(line))
        waiting = active.get(line, waiting)
    return _HEAD.format(title=_TITLES[stem]) + "\n".join(lines) + "\n"


def _commented(line: str) -> str:
    if not _KEY.match(line):
        return line
    key, value = next(iter(tomllib.loads(line).items()))
    if not isinstance(value, dict):
        return f"#{line}"
    plain = json.dumps(value["value"], ensure_ascii=False)
    spread = f"  # {value['low']} to {value['high']}" if "low" in value else ""
    return f"#{key} = {plain}{spread}"
