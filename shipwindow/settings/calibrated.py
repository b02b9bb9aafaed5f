"""Put a calibration into the settings: ``calibrated(settings, calibration) -> Settings``, and its file.

For: ``load``, so that whoever loads a shop decides with what the shop has measured, and ``learn``, which writes it.
A pure function of its two records. Must not know: readings, fits. Neighbour: ``calibration_file`` (the record).
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from shipwindow.errors import ConfigError
from shipwindow.settings.calibration_file import AnimalsLearned, Calibration
from shipwindow.settings.fields import config_key
from shipwindow.settings.models import LateLane, Settings

FILE = "calibration.toml"
MOST_IRON_SHARE = 0.85
_LEARNED = {"ua_factor", "supply_factor", "price_cents"}
_HEAD = """# What your own tests, loggers and arrivals have taught. Written by `shipwindow calibrate use`; do not edit.
# `shipwindow calibrate show` explains it, `shipwindow calibrate drop` goes back to the defaults.

"""


def basis_of(record: BaseModel) -> str:
    """Fingerprint a box or pack as the shop describes it: a calibration made for other sizes must not be used."""
    plain = {key: value for key, value in record.model_dump(mode="json").items() if key not in _LEARNED}
    return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()[:12]


def calibrated(settings: Settings, calibration: Calibration) -> tuple[Settings, tuple[str, ...]]:
    """Give the settings with what was measured in place of what was assumed, and what could not be used.

    Parameters
    ----------
    settings : Settings             As written, without any calibration.
    calibration : Calibration

    Returns
    -------
    settings, warnings              Centres moved and doubts narrowed; a box or pack that has changed since keeps its
                                    defaults, and then so do the doubts that every box shares.
    """
    warnings: list[str] = []
    boxes = dict(settings.boxes.box)
    for name, box in calibration.box.items():
        if name not in boxes or basis_of(boxes[name]) != box.basis:
            warnings.append(f"box {name} is not the one that was calibrated: its calibration is not used")
            continue
        boxes[name] = boxes[name].model_copy(update={"ua_factor": box.ua_factor})
    doubts: dict[str, float] = {}
    shared: dict[str, Any] = {}
    if calibration.wall is not None and not warnings:
        doubts |= {"wall_low": calibration.wall.low, "wall_high": calibration.wall.high}
        shared = {
            "contact_factor": calibration.wall.contact_factor,
            "fill_factor": calibration.wall.fill_factor,
        }
    if calibration.supply is not None:
        doubts |= {"supply_low": calibration.supply.low, "supply_high": calibration.supply.high}
        boxes = {
            name: kind.model_copy(update={"supply_factor": calibration.supply.factor}) for name, kind in boxes.items()
        }
    if calibration.forecast is not None:
        law = settings.rules.doubts
        doubts |= {
            "forecast_K": law.forecast_K * calibration.forecast.factor,
            "forecast_K_per_h": law.forecast_K_per_h * calibration.forecast.factor,
        }
    rules = settings.rules.model_copy(update={"doubts": settings.rules.doubts.model_copy(update=doubts)})
    found = settings.model_copy(
        update={
            "boxes": settings.boxes.model_copy(update={"box": boxes, **shared}),
            "rules": rules,
            "packs": _packs(settings, calibration, warnings),
            "lanes": _lanes(settings, calibration),
            "shop": _late(settings, calibration),
            "cargo": _animals(settings, calibration.animals),
            "calibration": calibration,
        }
    )
    return found, tuple(warnings)


def _packs(settings: Settings, calibration: Calibration, warnings: list[str]) -> Any:  # noqa: ANN401 - a settings file
    heat = dict(settings.packs.heat)
    for name, pack in calibration.pack.items():
        if name not in heat or basis_of(heat[name]) != pack.basis:
            warnings.append(f"pack {name} is not the one that was calibrated: its calibration is not used")
            continue
        kind = heat[name]
        share = min(kind.iron_share * pack.energy_factor, MOST_IRON_SHARE)
        mass_kg = kind.mass_kg if pack.mass_kg is None else pack.mass_kg
        heat[name] = kind.model_copy(update={"mass_kg": mass_kg, "iron_share": share})
    return settings.packs.model_copy(update={"heat": heat})


def _lanes(settings: Settings, calibration: Calibration) -> Any:  # noqa: ANN401 - a settings file
    around = settings.lanes.surroundings
    if calibration.van is None or "van" not in around:
        return settings.lanes
    van = around["van"].model_copy(
        update={
            "gain_K": calibration.van.gain_K,
            "gain_low_K": calibration.van.low_K,
            "gain_high_K": calibration.van.high_K,
        }
    )
    return settings.lanes.model_copy(update={"surroundings": {**around, "van": van}})


def _late(settings: Settings, calibration: Calibration) -> Any:  # noqa: ANN401 - a settings file
    if not calibration.lane:
        return settings.shop
    lanes = tuple(
        LateLane(hub=each.hub, region=each.region, ordinary=each.ordinary, peak=each.peak) for each in calibration.lane
    )
    late = settings.shop.late.model_copy(update={"lane": (*settings.shop.late.lane, *lanes)})
    return settings.shop.model_copy(update={"late": late})


def _animals(settings: Settings, animals: AnimalsLearned | None) -> Any:  # noqa: ANN401 - a settings file
    if animals is None:
        return settings.cargo
    kinds = {
        name: kind.model_copy(
            update={"heat_1h_C": kind.heat_1h_C + animals.heat_K, "cold_1h_C": kind.cold_1h_C + animals.cold_K}
        )
        for name, kind in settings.cargo.cargo.items()
    }
    dose = settings.cargo.dose
    dose = dose.model_copy(update={"bag_scale_h": max(dose.bag_scale_h * animals.bag_factor, 1.0)})
    return settings.cargo.model_copy(update={"cargo": kinds, "dose": dose})


def read_calibration(folder: Path) -> Calibration | None:
    """Read the calibration of a shop folder; None without one, ``ConfigError`` when it cannot be understood."""
    file = folder / FILE
    if not file.exists():
        return None
    do = "drop it with `shipwindow calibrate drop` and make it anew with `shipwindow calibrate use`"
    try:
        return Calibration.model_validate(tomllib.loads(file.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ConfigError(f"{file}: {error}", "a calibration that this program has written", do) from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise ConfigError(f"{file}: {where}: {first['msg']}", "a calibration that this program has written", do) from (
            error
        )


def calibration_text(calibration: Calibration) -> str:
    """Write the record as the text of its file; reading it back gives the same record."""
    lines: list[str] = []
    tables: list[tuple[str, Mapping[str, Any]]] = []
    for key, value in calibration.model_dump(mode="python", exclude_none=True).items():
        if key in ("box", "pack"):
            tables += [(f"[{key}.{json.dumps(name)}]", table) for name, table in value.items()]
        elif isinstance(value, Mapping):
            tables.append((f"[{key}]", value))
        elif isinstance(value, tuple):
            tables += [(f"[[{key}]]", table) for table in value]
        else:
            lines.append(_line(key, value))
    for head, table in tables:
        lines += ["", head, *(_line(key, value) for key, value in table.items())]
    return _HEAD + "\n".join(lines) + "\n"


def _line(key: str, value: object) -> str:
    name = config_key(key)
    if key in ("mass_kg", "heat_K", "cold_K", "gain_K", "low_K", "high_K"):  # plain numbers: the key keeps the unit
        return f"{key} = {value!r}"
    if isinstance(value, bool):
        return f"{name} = {str(value).lower()}"
    if isinstance(value, str):
        return f"{name} = {json.dumps(value, ensure_ascii=False)}"
    return f"{name} = {value}" if not isinstance(value, float) else f"{name} = {value!r}"
