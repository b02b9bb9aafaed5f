"""The instructions of a pack sheet, one plain sentence each.

For: turning a box, its bags and its pack plan into what the packer does. Must not know: pages, files, weather.
Neighbour: ``build``. Rules of packing are common practice without a source unless a line says otherwise; the gas law
behind "three quarters full" and the geometry of the board are computed.
"""

from __future__ import annotations

from collections.abc import Sequence

from shipwindow.advisory import view
from shipwindow.advisory.document import Way
from shipwindow.advisory.sheets.record import BagLine, Section
from shipwindow.decide.explain import HANDOVER_WORDS
from shipwindow.settings.desk_paper import Sheets as Habits
from shipwindow.settings.models import BoxKind, PlanChoice, Settings

INCH_M = 0.0254  # exact
POUND_KG = 0.45359237  # exact

WARMER_CAUTION = (
    "Warmers burn skin on long contact: never against a bag, never microwaved, opened or pierced. "
    "Oxygen from a leaking bag makes one hotter: test the bags twice."
)
CARRIER_CAUTION = "Your carrier's terms for live animals come first, then local law; ask in writing what they accept."
NEVER_ICE = "Never dry ice, never loose ice: both kill, and dry ice is dangerous goods."


def length(value_m: float) -> str:
    """Write a length as "2.0 in (5 cm)"."""
    return f"{value_m / INCH_M:.1f} in ({value_m * 100:.0f} cm)"


def area(length_m: float, breadth_m: float) -> str:
    """Write two sides as "11.5 × 9.5 in (29 × 24 cm)"."""
    inches = f"{length_m / INCH_M:.1f} × {breadth_m / INCH_M:.1f} in"
    return f"{inches} ({length_m * 100:.0f} × {breadth_m * 100:.0f} cm)"


def sides(inner_m: Sequence[float]) -> str:
    """Write three sides as "12 × 10 × 8 in"."""
    return " × ".join(f"{side / INCH_M:.3g}" for side in inner_m) + " in"


def mass(value_kg: float) -> str:
    """Write a mass as "1.2 kg (2.6 lb)"."""
    return f"{value_kg:.1f} kg ({value_kg / POUND_KG:.1f} lb)"


def volume(value_m3: float) -> str:
    """Write a volume of water as "80 mL"."""
    return f"{value_m3 * 1e6:.0f} mL" if value_m3 < 0.9995e-3 else f"{value_m3 * 1e3:.2f} L"


def temperature_line(low_C: float, high_C: float) -> str:
    """Write the range that stands on a label, in both scales."""
    low_F, high_F = (round(value * 9 / 5 + 32) for value in (low_C, high_C))
    return f"Keep between {low_F} and {high_F} °F ({low_C:.0f} to {high_C:.0f} °C)"


def carton_lines(temperature: str) -> tuple[str, ...]:
    """Give the lines for the outside of the carton.

    The range on the label follows the CITES packer's guideline Inv/1 (its opening was read); no official mark is drawn.
    """
    return ("LIVE ANIMALS", "live corals in sea water", "THIS WAY UP", temperature, "Open at once on arrival")


def bag_rest(bag: BagLine) -> str:
    """Say what one bag is beside its coral: kind, bag and water."""
    return f"{bag.kind} · {bag.bag} · {volume(bag.water_m3)} water"


def bag_rows(bags: Sequence[BagLine]) -> tuple[str, tuple[tuple[BagLine, str, str], ...]]:
    """Part a bag list into what all bags share and (bag, coral with its size, the rest) for each.

    A box of bags of one sort needs one line a bag; the sort is said once.
    """
    shared = {bag_rest(bag) for bag in bags}
    same = shared.pop() if len(shared) == 1 and len(bags) > 1 else ""
    rows = tuple(
        (bag, ", ".join(part for part in (bag.coral, bag.size) if part), "" if same else bag_rest(bag)) for bag in bags
    )
    return f"each {same}" if same else "", rows


def bag_section(bags: Sequence[BagLine], habits: Habits) -> Section:
    """Say how each bag is filled, closed and tested."""
    lines = []
    if any(not bag.coral for bag in bags):
        lines.append("Write the name of the coral on each label as you bag it; the order names only the bags.")
    lines += [
        "The coral sits in its cup or on its raft: its tissue touches neither plastic nor another piece.",
        _gas(habits.gas_fill),
    ]
    if habits.carbon:
        lines.append("Add the usual pinch of rinsed activated carbon.")
    lines.append("Leak test: turn the bag over, press it, wipe it dry, look for drops at the knot and the corners.")
    if habits.double_bag:
        lines.append("Slip it into its outer bag, knot the other way up; label both bags.")
    lines.append("Keep the closed bags afloat in the tank until the box is ready; the lid goes on last.")
    return Section(title="Each bag", lines=tuple(lines), place="bags")


def _gas(fill_frac: float) -> str:
    return (
        f"Fill with air or oxygen to about {fill_frac * 100:.0f} % and no further, so that the bag still gives: "
        "gas swells by a third in a high cabin."
    )


def box_section(
    box: BoxKind,
    habits: Habits,
    ballast_kg: float,
    headroom_m: float,
    layers: Sequence[str] = (),
    *,
    shield: bool,
    has_pack: bool,
    has_heat: bool,
) -> Section:
    """Say what goes into the box, from the floor up."""
    length_m, breadth_m, height_m = box.inner_m
    lines = []
    if habits.liner:
        outside = ", the heat pack outside it" if has_heat else ""
        lines.append(f"One liner bag round everything{outside}: a leak stops the box at the carrier.")
    lines.append("Half an inch of crumpled paper on the floor and round the sides.")
    if ballast_kg > 0:
        lines.append(
            f"Ballast: {mass(ballast_kg)} of tank water at tank temperature, in double bags without gas, flat on the "
            "floor, leak-tested like the others."
        )
    lines += _laid(layers)
    if shield:
        top_m = height_m - habits.pack_room_m
        lines.append(
            f"Paper on top up to {length(top_m)} above the floor, then the board, "
            f"{area(length_m - habits.shield_less_m, breadth_m - habits.shield_less_m)}, "
            f"corners cut off by {length(habits.shield_corner_m)} so that air passes."
        )
    elif has_pack:
        lines.append(f"Paper on top up to {length(height_m - habits.pack_room_m)} above the floor.")
    else:
        lines.append("Paper on top up to the lid, so that nothing moves when the box is turned over.")
    if has_pack:
        lines.append(f"The bags must end at least {length(headroom_m)} below the lid; with less, no pack may go in.")
    return Section(title=f"The box, {sides(box.inner_m)} inside", lines=tuple(lines), place="box")


def _laid(layers: Sequence[str]) -> list[str]:
    """Say how the bags lie, layer by layer, as the height of the picture counts with."""
    snug = "Snug, no gap wider than a fist; fill with paper."
    if not layers:
        return [f"Bags: no rows found for them, they only go in squeezed; none under another's weight. {snug}"]
    if len(layers) == 1:
        return [f"Bags in one layer, {layers[0]}. {snug}"]
    return [f"Bags, layer {number} from the floor: {text}." for number, text in enumerate(layers, 1)] + [
        f"Fuller bags below, a sheet of paper between layers. {snug}"
    ]


def pack_section(plan: PlanChoice, settings: Settings) -> Section | None:
    """Say which pack goes where, and how the lid is made."""
    if plan.heat is not None:
        return _heat_section(plan, settings)
    if plan.cold is None:
        return None
    pack = settings.packs.cold[plan.cold]
    each = f"{plan.count} × {plan.cold}, {pack.mass_kg * 1000:.0f} g"
    start = f"{pack.start_C:.0f} °C ({pack.start_C * 9 / 5 + 32:.0f} °F)"
    lines = (
        f"{each}: cooled to {start}, melting at {pack.melts_C:.0f} °C. Exactly so many: one more chills the box.",
        "Squeeze it for leaks, put it into a bag of its own and wrap it in paper.",
        f"Lay it {'on the board' if plan.shield else 'on the paper'}, in the middle under the lid"
        + (", the packs side by side." if plan.count > 1 else "."),
        "No hole in the lid; tape its seam all round." if plan.lid_hole_m <= 0 else _hole(plan.lid_hole_m),
    )
    return Section(title="Cold pack", lines=lines, place="box")


def _hole(hole_m: float) -> str:
    return (
        f"One hole of {hole_m * 1000:.0f} mm ({hole_m / INCH_M:.2f} in) through the middle of lid and carton; "
        "no tape and no label over it."
    )


def _heat_section(plan: PlanChoice, settings: Settings) -> Section:
    assert plan.heat is not None  # noqa: S101 - the caller asked
    pack = settings.packs.heat[plan.heat]
    several = plan.count > 1
    each = f"{plan.count} × {plan.heat}, {pack.mass_kg * 1000:.0f} g, rated {pack.rated_h:.0f} h"
    lines = (
        f"{each}. Exactly so many: packs share the air of the box.",
        "Open the wrapper when you begin this box; it must feel warm before the lid goes on. A cold one is a dud.",
        f"Fix {'them' if several else 'it'} under the lid with tape at the edges only, the breathing face free"
        + (", side by side, never stacked." if several else "."),
        _hole(plan.lid_hole_m) if plan.lid_hole_m > 0 else "No hole in the lid: the plan counts with a shut box.",
    )
    return Section(title="Heat pack", lines=lines, place="box")


def apart_section(plan: PlanChoice) -> Section:
    """Say what must not touch what."""
    lines = ["Living tissue: nothing at all, not the bag, not another piece."]
    if plan.heat is not None:
        lines.append("Heat pack: never against a bag, never under or between bags, never in the liner, never covered.")
    if plan.cold is not None:
        lines.append("Cold pack: never against a bag, not even through the paper; the board lies between.")
    lines.append("Bags: not against bare foam or carton; paper lies between.")
    return Section(title="Keep apart", lines=tuple(lines), tick=False)


def handover_section(way: Way, destination: str) -> Section:
    """Say how the box is handed over at its end; hours are on the destination's clock."""
    expected = f"expected by {view.clock_words(way.delivered_at)} there; opened by {view.clock_words(way.opened_at)}"
    lines = [f"{destination}: {HANDOVER_WORDS[way.handover]}, {way.commitment}, {expected}."]
    if way.handover == "depot":
        lines.append("Depot: the name on the label is the one on the customer's proof of identity; give a telephone.")
    elif way.handover == "met":
        lines.append("Telephone of the customer on the label; whoever meets the driver opens the box at once.")
    elif way.handover == "counter":
        lines.append("A counter gets the box from the van during the day: the customer calls before setting out.")
    return Section(title="Handover", lines=tuple(lines), tick=False)


def cautions(plan: PlanChoice) -> tuple[str, ...]:
    """Give the cautions of one box, what can hurt first."""
    return (*((WARMER_CAUTION,) if plan.heat is not None else ()), NEVER_ICE, CARRIER_CAUTION)


def safe_band(kinds: Sequence[str], settings: Settings) -> tuple[float, float]:
    """Give the band in which every kind of the box is safe: the warmest low and the coolest high. [degC]."""
    known = [settings.cargo.cargo[kind] for kind in kinds if kind in settings.cargo.cargo]
    return max(kind.safe_low_C for kind in known), min(kind.safe_high_C for kind in known)


def kind_label(kind: str, settings: Settings) -> str:
    """Give the plain label of a kind of animal."""
    return settings.cargo.cargo[kind].label if kind in settings.cargo.cargo else kind
