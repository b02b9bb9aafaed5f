"""A setting that nothing reads would be a promise without a keeper: every key is used somewhere.

No outside source: the project against itself. A name is looked for as an attribute in code, templates and letters; that
can miss a dead key with a common name and never accuses a living one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

from pydantic import BaseModel

from shipwindow.settings.models import Settings

PACKAGE = Path(__file__).parents[2] / "shipwindow"
BY_NAME = {"ColumnMap"}  # read by the names of its fields


def _models(annotation: object) -> Iterator[type[BaseModel]]:
    """Find the models inside an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def keys(model: type[BaseModel]) -> Iterator[tuple[str, str]]:
    for name, field in model.model_fields.items():
        if name == "calibration":  # a record of what was learned, no file of the shop
            continue
        yield model.__name__, name
        for inner in _models(field.annotation):
            yield from keys(inner)


def test_every_key_is_read_by_something() -> None:
    files = [file for kind in ("*.py", "*.html", "*.txt") for file in PACKAGE.rglob(kind)]
    ours = {"calibrated.py", "checks.py"}  # of the settings themselves, these two use them
    text = "\n".join(
        file.read_text(encoding="utf-8") for file in files if file.parent.name != "settings" or file.name in ours
    )
    read = set(re.findall(r"\.([a-zA-Z_]\w*)", text))
    every = {(model, name) for model, name in keys(Settings) if model not in BY_NAME}
    assert len(every) > 200
    assert {f"{model}.{name}" for model, name in every if name not in read} == set()
