"""The season sheet: in which months, and by which commitment, a shop's boxes can go to a place.

For: ``make_season``, a record that text, CSV, JSON, page and picture render. Results are kept in the shop's folder,
under a key of everything they hang on, so that asking again is quick. Must not know: how it is shown.
Neighbours: ``climate`` (the shares), ``season_*`` (the writers).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from pydantic import Field, ValidationError

from shipwindow.advisory.acceptance import asked_order
from shipwindow.advisory.climate import CALENDAR_YEAR, Climate, Share, StationSaid, count
from shipwindow.advisory.document import CAUTIONS, WHAT_IT_IS, Record
from shipwindow.advisory.run import hub_place, model_of, open_shop, origin_of
from shipwindow.advisory.weather import Progress
from shipwindow.decide.explain import percent
from shipwindow.desk import Problem, hub_of, to_shipment
from shipwindow.errors import ConfigError, StoreError
from shipwindow.forecast.histories import Nearby
from shipwindow.places import Place, find_place
from shipwindow.settings import Shop
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings
from shipwindow.store import write_atomically
from shipwindow.trip import Shipment
from shipwindow.version import VERSION

CACHE = "season-cache"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


class SeasonCell(Record):
    """One month by one commitment."""

    month: int = Field(ge=1, le=12)
    share: Share


class SeasonPlace(Record):
    """What the months hold for one place; without cells where no station is near enough."""

    place: str
    covered: bool
    says: str
    stations: tuple[StationSaid, ...]
    commitments: tuple[CommitmentName, ...]
    cells: tuple[SeasonCell, ...]
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...]

    def cell(self, month: int, commitment: CommitmentName) -> Share:
        """Give the share of a month by a commitment."""
        return next(one.share for one in self.cells if one.month == month and one.share.commitment == commitment)


class SeasonSheet(Record):
    """The months for one place or several."""

    shop: str
    cargo: str
    cargo_label: str
    handover: HandoverName
    bags: str
    limit: float
    accept_from: float
    model: str
    places: tuple[SeasonPlace, ...]
    what_it_is: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether every place asked for is covered."""
        return all(place.covered for place in self.places)


def make_season(
    shop: Shop | Path | str,
    places: Sequence[str],
    year: int,
    *,
    cargo: str | None = None,
    handover: str | None = None,
    again: bool = False,
    progress: Progress | None = None,
) -> SeasonSheet:
    """Count the days of every month that could go to each place.

    Parameters
    ----------
    shop : Shop, or path            A shop read by ``load_shop``, or its folder.
    places : sequence of str        ZIP codes, or "lat,lon Zone/Name".
    year : int                      The year it is asked in; only to check the shop's settings.
    cargo, handover : str, optional    As in the orders file; None takes the shop's default.
    again : bool                    Count anew even where a result was kept in the shop's folder.
    progress : callable, optional   Called as ``progress(what, done, total)``.

    Raises
    ------
    ConfigError, PlaceError         A name or place that is not known. A place without climate never raises.
    """
    from datetime import UTC, datetime

    if not places:
        raise ConfigError("no place", "one ZIP code or more", "name the destinations")
    opened = open_shop(shop, datetime(year, 1, 1, tzinfo=UTC))
    settings = opened.settings
    found: list[SeasonPlace] = []
    shipment: Shipment | None = None
    for text in places:
        shipment = shipment_for(settings, find_place(text), cargo, handover)
        climate = Climate.of(opened, shipment)
        cache = _Cache(opened, climate) if climate.covered else None
        kept = cache.read() if cache is not None and not again else None
        if kept is None:
            kept = _one_place(climate, progress)
            if cache is not None:
                cache.write(kept)
        found.append(kept)
    assert shipment is not None  # noqa: S101 - there is one place at least
    return SeasonSheet(
        shop=settings.shop.shop.name,
        cargo=shipment.cargo,
        cargo_label=settings.cargo.cargo[shipment.cargo].label,
        handover=shipment.handover,
        bags=settings.shop.defaults.bags,
        limit=settings.shop.limits.within,
        accept_from=settings.shop.climate.accept_from,
        model=model_of(settings),
        places=tuple(found),
        what_it_is=WHAT_IT_IS,
        cautions=CAUTIONS,
        notes=opened.warnings,
    )


def shipment_for(settings: Settings, destination: Place, cargo: str | None, handover: str | None) -> Shipment:
    """Make the shipment a season is counted for: the shop's default order to a place."""
    day = date(CALENDAR_YEAR, 1, 1)
    order = asked_order(
        settings, destination, day, {"cargo": cargo, "handover": handover}, settings.shop.defaults.value_cents
    )
    hub = hub_place(settings, hub_of(destination, settings.lanes))
    shipment = to_shipment(order, settings, origin_of(settings), hub, day)
    if isinstance(shipment, Problem):
        raise ConfigError(shipment.read, shipment.expected, shipment.do)
    return shipment


def _one_place(climate: Climate, progress: Progress | None) -> SeasonPlace:
    label = climate.shipment.destination.label
    if not climate.covered:
        return SeasonPlace(
            place=label, covered=False, says=f"not known: {climate.missing}", stations=climate.stations,
            commitments=(), cells=(), cautions=(),
        )  # fmt: skip
    year = [date(CALENDAR_YEAR, 1, 1) + timedelta(days=step) for step in range(365)]
    days = climate.days(year, progress=progress, what=f"days to {label}")
    cells = tuple(
        SeasonCell(month=month, share=share)
        for month in range(1, 13)
        for share in count([one for one in days if one.day.month == month], climate.settings)
    )
    commitments = tuple(dict.fromkeys(cell.share.commitment for cell in cells))
    return SeasonPlace(
        place=label,
        covered=True,
        says=_sentence(cells, climate.settings.shop.climate.accept_from),
        stations=climate.stations,
        commitments=commitments,
        cells=cells,
        remarks=climate.remarks,
        cautions=climate.cautions,
    )


def _sentence(cells: Sequence[SeasonCell], enough: float) -> str:
    """Say from which to which month most days can go, by the commitment that does best."""
    spans: dict[tuple[int, ...], list[CommitmentName]] = {}
    for commitment in dict.fromkeys(cell.share.commitment for cell in cells):
        mine = [cell for cell in cells if cell.share.commitment == commitment]
        good = tuple(cell.month for cell in mine if (cell.share.share or 0.0) >= enough)
        spans.setdefault(good, []).append(commitment)
    said = [f"{_months(good)} by {_listed(names)}" for good, names in spans.items() if good]
    none = [name for good, names in spans.items() if not good for name in names]
    said += [f"in no month by {_listed(none)}"] if none else []
    text = f"at least {percent(enough)} of past days had a plan within the limit "
    return text + "; ".join(said)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _months(good: Sequence[int]) -> str:
    """Write months as spans that may run over the year's end: "from October to April"."""
    if len(good) == len(MONTHS):
        return "in every month"
    spans = []
    for month in good:
        if (month - 2) % 12 + 1 in good:
            continue
        last = month
        while last % 12 + 1 in good:
            last = last % 12 + 1
        name = MONTH_NAMES[month - 1]
        spans.append(f"in {name}" if last == month else f"from {name} to {MONTH_NAMES[last - 1]}")
    return " and ".join(spans)


class _Cache:
    """One place's result in the shop's folder, named after everything it hangs on."""

    def __init__(self, shop: Shop, climate: Climate) -> None:
        key = _key(climate)
        self._path = None if shop.folder is None else shop.folder / CACHE / f"{key}.json"

    def read(self) -> SeasonPlace | None:
        """Give what was kept; what cannot be read is made again."""
        if self._path is None or not self._path.is_file():
            return None
        try:
            return SeasonPlace.model_validate_json(self._path.read_bytes())
        except (OSError, ValidationError):
            return None

    def write(self, place: SeasonPlace) -> None:
        """Keep a result; a folder that cannot be written costs time next time, and nothing else."""
        if self._path is None:
            return
        import contextlib

        with contextlib.suppress(StoreError):
            write_atomically(self._path, place.model_dump_json(indent=1) + "\n")


def _key(climate: Climate) -> str:
    settings, shipment = climate.settings, climate.shipment
    digest = hashlib.sha256()
    for part in (
        *(getattr(settings.shop, name) for name in ("bench", "drop_off", "limits", "late", "climate")),
        settings.lanes, settings.cargo, settings.boxes, settings.packs, settings.rules,
    ):  # fmt: skip
        digest.update(part.model_dump_json().encode())
    digest.update(repr(shipment).encode())
    for one in climate.found.values():
        if isinstance(one, Nearby):
            digest.update(one.path.read_bytes())
    digest.update(_program())
    return digest.hexdigest()[:24]


@lru_cache(maxsize=1)
def _program() -> bytes:
    """Digest the parts of the program that the numbers come from."""
    home = Path(__file__).resolve().parent.parent
    digest = hashlib.sha256(VERSION.encode())
    for folder in ("advisory", "box", "cargo", "decide", "forecast", "trip"):
        for path in sorted((home / folder).rglob("*.py")):
            digest.update(path.read_bytes())
    return digest.digest()
