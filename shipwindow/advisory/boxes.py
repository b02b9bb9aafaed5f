"""Compare the boxes an order could travel in: room, weight, bill, chance of loss; share it out where one is too few.

For: ``compare_boxes`` behind ``shipwindow fit``. The cheapest and the safest box stand side by side; which one goes is
the seller's choice, and the morning's advisory decides as ever. Must not know: terminals. Neighbours: ``desk.fitted``
(the box), ``desk.splitting`` (several), ``single`` (one order under the forecast), ``boxes_text`` (prints it).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from shipwindow.advisory.document import Record
from shipwindow.advisory.run import rate_notes
from shipwindow.advisory.single import Single, Way, way_of
from shipwindow.advisory.weather import Forecasts, Progress
from shipwindow.decide.verdict import Standing, Verdict
from shipwindow.desk import Order
from shipwindow.desk.boxfit import BagList, fit
from shipwindow.desk.fitted import Fitted, billed_as, fitted, fitted_boxes
from shipwindow.desk.money import Billable, materials_cents
from shipwindow.desk.packing import layer_words
from shipwindow.desk.rates import Rates, read_rates
from shipwindow.desk.splitting import Part, apart, share_out
from shipwindow.settings import Shop
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings

CAUTIONS = (
    "Bags are taken as stiff cylinders; real ones give way. Try a new mix of bags in the box before you promise it.",
    "Ballast makes a drop harder and adds bags that can leak: double bags, no gas, tank water, flat on the floor.",
    "Weigh and measure your own boxes: write empty and outer under each box in boxes.toml.",
)


class PriceSaid(Record):
    """What the carrier takes for one commitment, or why there is no price."""

    commitment: CommitmentName
    cents: int | None
    says: str


class RiskSaid(Record):
    """The best way to ship in this box, from the same assessment as the morning's advisory."""

    chance: float
    standing: Standing
    advice: str
    ship_day: date
    commitment: CommitmentName
    pack: str
    price_cents: int | None
    expected_cents: int | None


class BoxSaid(Record):
    """One box with the order's bags in it; lengths in m, masses in kg, money in cents."""

    box: str
    bags: tuple[tuple[str, int], ...]
    cargo: str
    fits: bool
    tight: bool
    headroom_m: float
    full_frac: float
    layers: tuple[str, ...]
    water_kg: float
    packed_kg: float
    outer_m: tuple[float, float, float]
    billed: float
    billed_unit: str
    billed_by: str
    free_ballast_kg: float
    ballast_by_weight_kg: float
    ballast_by_room_kg: float
    shield_m: tuple[float, float]
    fill_m3: float
    fill_kg: float
    materials_cents: int
    prices: tuple[PriceSaid, ...] = ()
    risk: RiskSaid | None = None
    no_risk: str = ""
    notes: tuple[str, ...] = ()

    @property
    def cost_cents(self) -> int | None:
        """Price of the way that was found best with what is used up; without a way, the least of all. [cents]"""
        if self.risk is None:
            return self.least_cents
        return None if self.risk.price_cents is None else self.risk.price_cents + self.materials_cents

    @property
    def least_cents(self) -> int | None:
        """Cheapest price of the carrier with what is used up; None without any price. [cents]"""
        known = [price.cents for price in self.prices if price.cents is not None]
        return min(known) + self.materials_cents if known else None


class BoxesSaid(Record):
    """All boxes that hold an order, and how it could be shared out."""

    shop: str
    bags: tuple[tuple[str, int], ...]
    water_kg: float
    place: str
    cargo: str
    boxes: tuple[BoxSaid, ...]
    cheapest: str
    safest: str
    too_small: tuple[str, ...]
    shared: tuple[BoxSaid, ...]
    shared_because: str
    scale: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def served(self) -> bool:
        """Whether the bags go into something."""
        return bool(self.boxes or self.shared)


@dataclass(frozen=True)
class Asked:
    """Bags, the kind of animal in each where that is known, and the order they are of, if there is a destination."""

    bags: tuple[tuple[str, int], ...]
    pieces: tuple[tuple[str, str], ...] = ()
    order: Order | None = None


def known_pieces(order: Order) -> tuple[tuple[str, str], ...]:
    """Give the bag and the kind of animal of each coral, or nothing where an order leaves some of them open."""
    pieces = tuple((line.bag, line.kind) for line in order.lines)
    known = all(bag and kind for bag, kind in pieces) and len(pieces) == sum(count for _, count in order.bags)
    return pieces if known else ()


def compare_boxes(
    shop: Shop,
    asked: Asked,
    now: datetime,
    on: date | None = None,
    *,
    risk: bool = True,
    forecasts: Forecasts = None,
    progress: Progress | None = None,
) -> BoxesSaid:
    """Compare every box that holds the bags; with an order, also by price and by chance of loss."""
    settings = shop.settings
    rates = read_rates(shop.folder, settings)
    notes = rate_notes(rates)
    found = fitted_boxes(asked.bags, settings)
    single = Single.of(shop, asked.order, now, on, notes) if asked.order is not None else None
    kind = asked.order.cargo if asked.order is not None else ""
    parts, because = _parts(asked, found, single, rates)
    every = [_said(one, kind, single, rates) for one in found]
    shared = [_said(fitted(part.box, part.bags, settings), part.cargo or kind, single, rates) for part in parts]
    if single is not None and asked.order is not None and risk:
        with_bags = [replace(asked.order, box=one.box) for one in every]
        with_bags += [_share_of(asked.order, one) for one in shared]
        verdicts = single.decide(with_bags, rates, forecasts, progress)
        every = [_risked(one, verdict) for one, verdict in zip(every, verdicts, strict=False)]
        shared = [_risked(one, verdict) for one, verdict in zip(shared, verdicts[len(every) :], strict=True)]
    names = {one.name for one in found}
    return BoxesSaid(
        shop=settings.shop.shop.name,
        bags=asked.bags,
        water_kg=found[0].water_kg if found else sum(one.water_kg for one in shared),
        place=single.order.destination.label if single is not None else "",
        cargo=kind,
        boxes=tuple(every),
        cheapest=_cheapest(every),
        safest=_safest(every, settings),
        too_small=tuple(name for name in settings.boxes.box if name not in names),
        shared=tuple(shared),
        shared_because=because,
        scale=settings.shop.show.temperature,
        notes=tuple(dict.fromkeys(notes)),
        cautions=CAUTIONS,
    )


def _parts(asked: Asked, found: Sequence[Fitted], single: Single | None, rates: Rates) -> tuple[tuple[Part, ...], str]:
    """Share an order out when no box holds it, or when its animals differ."""
    settings = rates.settings

    def cost(name: str, bags: BagList) -> float:
        bill = billed_as(name, bags, settings)
        known = [price.cents for price in _prices(bill, single, rates) if price.cents is not None]
        used_cents = materials_cents(name, bags, settings.boxes, settings.desk.money)
        return float(min(known) + used_cents) if known else bill.weight_kg

    kinds = tuple(dict.fromkeys(kind for _, kind in asked.pieces))
    if len(kinds) > 1:
        parts = apart(asked.pieces, settings.boxes, cost)
        return parts or (), f"{len(kinds)} kinds of animals: each in a box of its own"
    if not any(one.found.fits for one in found):
        parts = share_out(asked.bags, settings.boxes, cost)
        if parts is not None and len(parts) > 1:
            return parts, "no box holds them all without squeezing: shared out over as few boxes as hold them"
        loose = [
            bag for bag, _ in asked.bags if not any(fit(n, [(bag, 1)], settings.boxes).fits for n in settings.boxes.box)
        ]
        return (), f"no box holds even one {', '.join(loose)}" if loose else ""
    return (), ""


def _share_of(order: Order, part: BoxSaid) -> Order:
    """Give the order a part stands for; its value is shared out by bags."""
    share = sum(count for _, count in part.bags) / sum(count for _, count in order.bags)
    return replace(
        order, box=part.box, bags=part.bags, cargo=part.cargo, value_cents=round(order.value_cents * share), lines=()
    )


def _prices(bill: Billable, single: Single | None, rates: Rates) -> tuple[PriceSaid, ...]:
    if single is None:
        return ()
    wished, order = single.order.commitment, single.order
    names = (wished,) if wished is not None else tuple(rates.settings.lanes.commitment)
    found = {name: rates.price(name, order.destination, single.hub_name, bill) for name in names}
    return tuple(PriceSaid(commitment=name, cents=each.cents, says=each.says) for name, each in found.items())


def _said(one: Fitted, cargo: str, single: Single | None, rates: Rates) -> BoxSaid:
    settings = rates.settings
    wished_m = settings.desk.fit.headroom_m
    notes = []
    if one.found.tight:
        notes.append("goes in only squeezed: try it before you promise it")
    elif one.headroom_m < wished_m:
        notes.append("less room under the lid than you aim for, but enough for a pack")
    return BoxSaid(
        box=one.name,
        bags=one.bags,
        cargo=cargo,
        fits=one.found.fits,
        tight=one.found.tight,
        headroom_m=one.headroom_m,
        full_frac=one.full_frac,
        layers=layer_words(one.layers, [bag for bag, _ in one.bags]),
        water_kg=one.water_kg,
        packed_kg=one.packed_kg,
        outer_m=one.outer_m,
        billed=one.billable.weight,
        billed_unit=one.billable.unit,
        billed_by=one.billable.by,
        free_ballast_kg=one.ballast.free_kg,
        ballast_by_weight_kg=one.ballast.by_weight_kg,
        ballast_by_room_kg=one.ballast.by_room_kg,
        shield_m=one.shield_m,
        fill_m3=one.fill_m3,
        fill_kg=one.fill_kg,
        materials_cents=materials_cents(one.name, one.bags, settings.boxes, settings.desk.money),
        prices=_prices(one.billable, single, rates),
        notes=tuple(notes),
    )


def _risked(one: BoxSaid, verdict: Verdict | str) -> BoxSaid:
    if isinstance(verdict, str):
        return one.model_copy(update={"no_risk": verdict})
    found: Way | None = way_of(verdict)
    if found is None:
        return one.model_copy(update={"no_risk": next(iter((*verdict.missing, *verdict.reasons)), "no way was found")})
    option = found.option
    risk = RiskSaid(
        chance=option.chance.combined,
        standing=option.chance.standing,
        advice=verdict.advice if found.today else "hold",
        ship_day=option.ship_day,
        commitment=option.commitment,
        pack=option.plan.says,
        price_cents=option.price_cents,
        expected_cents=option.expected_cents,
    )
    return one.model_copy(update={"risk": risk})


def _cheapest(boxes: Sequence[BoxSaid]) -> str:
    """Name the box with the least to pay; without prices, the least billed weight, then the smallest."""
    fitting = [one for one in boxes if one.fits] or list(boxes)
    costs = {one.box: one.cost_cents for one in fitting}
    known = {box: cents for box, cents in costs.items() if cents is not None}
    if known and len(known) == len(costs):
        return min(fitting, key=lambda one: (known[one.box], one.billed)).box
    return min(fitting, key=lambda one: (one.billed, one.packed_kg)).box if fitting else ""


def _safest(boxes: Sequence[BoxSaid], settings: Settings) -> str:
    """Name the box with the least chance of loss; of those as good, the one billed least."""
    fitting = [one for one in boxes if one.fits] or boxes
    chances: Mapping[str, float] = {one.box: one.risk.chance for one in fitting if one.risk is not None}
    if not chances:
        return ""
    least = min(chances.values()) + settings.rules.choosing.least_gain
    near = [one for one in fitting if chances.get(one.box, 2.0) <= least]
    return min(near, key=lambda one: (one.billed, chances[one.box])).box
