"""Try every box, pack, animal and holiday list of a shop before the morning's work begins.

For: telling a number beyond the model's range by its table in the settings, and not in the middle of an order.
The ranges themselves live with the physics. Must not know: orders, weather. Neighbour: ``run``, which calls it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from shipwindow.decide.plans import list_packings
from shipwindow.decide.risk import tolerance_of
from shipwindow.desk.boxfit import load_box
from shipwindow.errors import ConfigError, DomainError
from shipwindow.settings.explain import Fault, SettingsFaults
from shipwindow.settings.models import BagKind, Settings
from shipwindow.trip.shipment import BoxChoice
from shipwindow.workdays import public_holidays

ROOMY_M = 1.0
THIMBLE = BagKind.model_construct(flat_m=(0.05, 0.05), water_m3=1e-4)


def check_ranges(settings: Settings, year: int) -> None:
    """Raise ``SettingsFaults`` with every table that the model cannot work with."""
    faults = [
        Fault(file, 0, key, error.read, error.expected, error.do, order)
        for order, (file, key, work) in enumerate(_trials(settings, year))
        if (error := _error_of(work)) is not None
    ]
    if faults:
        raise SettingsFaults(faults)


def _error_of(work: Callable[[], object]) -> ConfigError | DomainError | None:
    try:
        work()
    except (ConfigError, DomainError) as error:
        return error
    return None


def _trials(settings: Settings, year: int) -> Iterator[tuple[str, str, Callable[[], object]]]:
    """Give file, key and trial of every table."""
    calendar, boxes, packs = settings.shop.calendar, settings.boxes, settings.packs
    yield "shop.toml", "calendar.holidays", partial(public_holidays, calendar.holidays, year)
    for name, kind in settings.cargo.cargo.items():
        yield "cargo.toml", f"dose, cargo.{name}", partial(tolerance_of, kind, settings.cargo.dose)
    small, bags = boxes.model_copy(update={"bag": {"thimble": THIMBLE}}), (("thimble", 1),)
    for name in boxes.box:
        yield "boxes.toml", f"box.{name}", partial(load_box, name, bags, small)
    good = next((name for name in boxes.box if _error_of(partial(load_box, name, bags, small)) is None), None)
    if good is None:
        return
    choice = BoxChoice(good, load_box(good, bags, small), ROOMY_M)
    for name, plan in packs.plan.items():
        alone = settings.model_copy(update={"packs": packs.model_copy(update={"plan": {name: plan}})})
        yield "packs.toml", f"plan.{name}", partial(list_packings, choice, alone)
