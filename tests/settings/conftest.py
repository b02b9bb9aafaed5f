"""A small shop folder for the tests of ``settings``."""

from collections.abc import Callable
from pathlib import Path

import pytest

SHOP = '[shop]\nname = "Test shop"\nplace = "86001"\n'
LANES = '[hub.main]\nplace = "35.05,-89.98 America/Chicago"\n'


@pytest.fixture
def shop_folder(tmp_path: Path) -> Callable[..., Path]:
    """Write a shop folder; each file's text may be replaced or added to."""

    def write(**texts: str) -> Path:
        (tmp_path / "shop.toml").write_text(texts.pop("shop", SHOP + texts.pop("more_shop", "")), encoding="utf-8")
        (tmp_path / "lanes.toml").write_text(texts.pop("lanes", LANES + texts.pop("more_lanes", "")), encoding="utf-8")
        for stem, text in texts.items():
            (tmp_path / f"{stem}.toml").write_text(text, encoding="utf-8")
        return tmp_path

    return write
