"""Shape of the shop folder: what may be set, in which unit, within which range.

For: frozen pydantic models of ``shop.toml``, ``lanes.toml``, ``cargo.toml``, ``boxes.toml``,
``packs.toml`` and ``rules.toml``, and ``Settings``, which holds every file.
Must not know: where the files lie (``load``) or how an error is worded (``explain``).
"""

from __future__ import annotations

from datetime import date, time
from typing import Annotated, Literal, Self

from pydantic import Field, SecretStr, model_validator

from shipwindow.settings.calibration_file import Calibration
from shipwindow.settings.desk_file import DeskFile
from shipwindow.settings.fields import (
    Chance,
    Clock,
    CommitmentName,
    ConductivityWMK,
    DistanceKm,
    DurationH,
    Facing,
    Factor,
    FlowM3S,
    HandoverName,
    LatentJKg,
    LengthM,
    MassKg,
    MoneyCents,
    Multiple,
    Name,
    PressureKPa,
    RiseK,
    Section,
    SpeedMS,
    TemperatureC,
    VolumeM3,
    WaterC,
    Weekday,
    _hours,
)
from shipwindow.settings.learn_file import LearnFile
from shipwindow.settings.service_file import ServiceFile

# ---------------------------------------------------------------- shop.toml


class ShopFacts(Section):
    """Who ships, and from where."""

    name: Name
    place: Name
    contact: Annotated[str, Field(max_length=120)] = ""
    zone: str | None = None


class Bench(Section):
    """Where the box is packed."""

    air_C: TemperatureC
    water_C: WaterC
    lid_shut: Clock


class DropOff(Section):
    """Where and until when the shop hands boxes over."""

    place: Name | None = None
    at: Clock
    cut_off: Clock
    drive_h: DurationH


class Defaults(Section):
    """What an order means when it does not say."""

    cargo: Name
    handover: HandoverName
    box: Name
    bags: Name
    value_cents: MoneyCents


class Limits(Section):
    """Chance of loss the shop accepts: below `within` it ships, above `near` it never does."""

    within: Chance
    near: Chance
    late_ceiling: Chance
    flip_near: Chance

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.within < self.near:
            raise ValueError(f"within {self.within}, near {self.near}|within below near|raise near or lower within")
        return self


class LateLane(Section):
    """Chance of a day's delay on one lane: a hub, and the first digits of the postcodes behind it."""

    hub: Name
    region: Annotated[str, Field(max_length=10)] = ""
    ordinary: Chance
    peak: Chance


class LateChance(Section):
    """Chance that a box arrives a day late."""

    ordinary: Chance
    peak: Chance
    peak_from: Annotated[str, Field(pattern=r"^\d\d-\d\d$")]
    peak_until: Annotated[str, Field(pattern=r"^\d\d-\d\d$")]
    wet: Chance
    freezing: Chance
    wet_from_pct: Annotated[float, Field(ge=0, le=100)]
    gust_m_s: SpeedMS
    lane: tuple[LateLane, ...] = ()

    def on_lane(self, hub: str, postcode: str) -> LateChance:
        """Give the chances of a lane: the longest region of this hub that fits, else those of any lane."""
        fitting = [each for each in self.lane if each.hub == hub and postcode.startswith(each.region)]
        if not fitting:
            return self
        lane = max(fitting, key=lambda each: len(each.region))
        return self.model_copy(update={"ordinary": lane.ordinary, "peak": lane.peak})


class CarrierCalendar(Section):
    """Days the carrier collects and delivers, days nobody ships."""

    collect: tuple[Weekday, ...]
    deliver: tuple[Weekday, ...]
    slack_deliver: tuple[Weekday, ...] = ()
    holidays: str
    confirmed_working: tuple[date, ...] = ()
    confirmed_closed: tuple[date, ...] = ()
    blackout: tuple[date, ...] = ()
    window_days: Annotated[int, Field(ge=1, le=14)]


class ForecastChoice(Section):
    """Where forecasts come from and how old they may be."""

    source: Literal["auto", "nws", "met", "openmeteo", "files"]
    folder: str | None = None
    cache: str
    address: str
    met_address: str = "https://api.met.no"
    openmeteo_address: str = ""
    openmeteo_models: str = ""
    openmeteo_key: SecretStr = SecretStr("")
    stale_h: DurationH
    too_old_h: DurationH
    farthest_km: DistanceKm
    timeout_h: DurationH


class ClimateChoice(Section):
    """What stands in beyond the forecast: hourly histories, how near they must lie, what share of days is enough."""

    folder: str | None = None
    farthest_km: DistanceKm
    height_apart_m: LengthM
    around_days: Annotated[int, Field(ge=3, le=45)]
    accept_from: Chance
    conditions_from: Chance

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.conditions_from <= self.accept_from:
            raise ValueError(
                f"conditions-from {self.conditions_from}, accept-from {self.accept_from}"
                "|conditions-from not above accept-from|lower the first or raise the second"
            )
        return self


class Show(Section):
    """How pages and terminals show numbers."""

    temperature: Literal["F", "C"]
    plots: bool


class ShopFile(Section):
    """``shop.toml``."""

    shop: ShopFacts
    bench: Bench
    drop_off: DropOff
    defaults: Defaults
    limits: Limits
    late: LateChance
    calendar: CarrierCalendar
    forecast: ForecastChoice
    climate: ClimateChoice
    show: Show


# --------------------------------------------------------------- lanes.toml


class Hub(Section):
    """A sort hub, with the hours of its night sort on its own clock."""

    place: Name
    zone: str | None = None
    sort_start: Clock
    sort_end: Clock
    least_stay_h: DurationH


class Commitment(Section):
    """A delivery promise, on the destination's clock."""

    days: Annotated[int, Field(ge=1, le=3)]
    deliver_by: Clock
    price_cents: MoneyCents | None = None


class Timetable(Section):
    """Hours between the fixed clocks of a trip."""

    depot_leave: Clock
    ramp_h: DurationH
    hub_ramp_h: DurationH
    flight_speed_m_s: SpeedMS
    flight_extra_h: DurationH
    sort_start: Clock
    sort_least_h: DurationH
    van_leave: Clock
    van_least_h: DurationH
    depot_ready: Clock
    van_back: Clock = time(18, 0)

    @model_validator(mode="after")
    def _morning(self) -> Self:
        """Without a morning in which a box is sorted, driven and delivered, no day would ever do."""
        back_h = _hours(self.van_back)
        sorted_h = _hours(self.sort_start) + self.sort_least_h
        if max(sorted_h, _hours(self.van_leave)) + self.van_least_h > back_h or sorted_h > 24.0:
            raise ValueError(
                f"sort-start {self.sort_start:%H:%M}, sort-least {self.sort_least_h:g} h, van-leave "
                f"{self.van_leave:%H:%M}, van-least {self.van_least_h:g} h, van-back {self.van_back:%H:%M}"
                "|a sort at the destination and a ride that end before van-back"
                "|correct the hours; the hub's own night sort stands under [hub.NAME]"
            )
        return self


class Surroundings(Section):
    """What is around the box during a leg.

    Air = outdoor_share x outdoor + (1 - outdoor_share) x indoor, kept within low..high, plus the sun's
    gain in a closed van; wind_share and sun_share say how much of the forecast wind and sun reach it. ``faces`` says
    which way a porch looks ("open": anywhere, the default), ``roof_deg`` how high its roof's edge stands (90: no roof).
    """

    outdoor_share: Chance
    indoor_C: TemperatureC
    indoor_low_C: TemperatureC
    indoor_high_C: TemperatureC
    low_C: TemperatureC
    high_C: TemperatureC
    gain_K: RiseK
    gain_low_K: RiseK
    gain_high_K: Annotated[RiseK, Field(le=40)]
    gain_delay_h: DurationH
    wind_share: Chance
    sun_share: Chance
    pressure_kPa: PressureKPa
    faces: Facing = "open"
    roof_deg: Annotated[float, Field(ge=0, le=90)] = 90.0

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        for values, what in (
            ((self.indoor_low_C, self.indoor_C, self.indoor_high_C), "indoor-low, indoor, indoor-high"),
            ((self.gain_low_K, self.gain_K, self.gain_high_K), "gain-low, gain, gain-high"),
            ((self.low_C, self.high_C), "low, high"),
        ):
            if list(values) != sorted(values):
                shown = ", ".join(f"{value:.1f}" for value in values)
                raise ValueError(f"{shown} ({what})|{what} in rising order|correct the range")
        return self


class HandoverProfile(Section):
    """How the box is handed over and how long it waits until somebody opens it."""

    surroundings: Name
    wait_h: DurationH
    wait_high_h: DurationH
    rides_van: bool


class Remote(Section):
    """Postcodes where the label promises more than the carrier does."""

    postcodes: tuple[str, ...]
    deliver_by: Clock
    extra_days: Annotated[int, Field(ge=0, le=3)] = 0
    note: str = ""


class Lane(Section):
    """Destinations that go through a hub other than the default."""

    postcodes: tuple[str, ...]
    hub: Name


class Ground(Section):
    """Near destinations go by road overnight, without flight or hub."""

    within_km: DistanceKm
    speed_m_s: SpeedMS


class LanesFile(Section):
    """``lanes.toml``."""

    default_hub: Name
    hub: dict[str, Hub]
    commitment: dict[CommitmentName, Commitment]
    timetable: Timetable
    surroundings: dict[str, Surroundings]
    handover: dict[HandoverName, HandoverProfile]
    lane: tuple[Lane, ...] = ()
    remote: tuple[Remote, ...] = ()
    ground: Ground


# --------------------------------------------------------------- cargo.toml


class CargoKind(Section):
    """Tolerance of one kind of animal."""

    label: Name
    heat_1h_C: TemperatureC
    heat_spread: Factor
    cold_1h_C: TemperatureC
    cold_spread: Factor
    safe_low_C: TemperatureC
    safe_high_C: TemperatureC
    two_days: bool


class DoseLaw(Section):
    """Constants of the dose model that all kinds share."""

    heat_per_decade_K: Annotated[RiseK, Field(ge=0.5, le=20)]
    cold_per_decade_K: Annotated[RiseK, Field(ge=0.5, le=20)]
    heat_from_C: TemperatureC
    cold_from_C: TemperatureC
    bag_scale_h: Annotated[DurationH, Field(ge=1)]
    bag_shape: Annotated[Factor, Field(le=20)]
    bag_q10: Factor
    bag_reference_C: TemperatureC
    base_chance: Chance
    doubt_warm_K: RiseK
    doubt_cold_K: RiseK


class CargoFile(Section):
    """``cargo.toml``."""

    cargo: dict[str, CargoKind]
    dose: DoseLaw


# --------------------------------------------------------------- boxes.toml


class BoxKind(Section):
    """An insulated box, inner sizes and wall."""

    inner_m: Annotated[tuple[LengthM, LengthM, LengthM], Field(description="length, width, height")]
    wall_m: LengthM
    make: Literal["moulded", "panels"]
    conductivity_W_mK: ConductivityWMK
    carton_m: LengthM
    air_leak_m3_s: FlowM3S
    price_cents: MoneyCents | None = None
    ua_factor: Multiple = 1.0  # what tests of this box have taught, see calibration
    supply_factor: Multiple = 1.0
    outer_m: Annotated[tuple[LengthM, LengthM, LengthM] | None, Field(description="as measured outside")] = None
    empty_kg: MassKg | None = None  # box with its carton, weighed empty
    walls_m: Annotated[
        tuple[LengthM, LengthM, LengthM, LengthM, LengthM, LengthM] | None,
        Field(description="left, right, front, back, floor, lid"),
    ] = None  # where they differ; left and right are the width x height faces
    seam_gap_m: Annotated[LengthM, Field(le=0.005)] = 0.0  # an open joint under the lid, by its mean gap
    seam_length_m: Annotated[LengthM, Field(le=5)] | None = None  # left out: once round the lid
    seam_below_m: Annotated[LengthM, Field(le=2)] = 0.03
    liner: Literal["none", "bags", "all"] = "none"  # what a tied liner bag encloses

    @model_validator(mode="after")
    def _walls(self) -> Self:
        for wall_m in self.walls_m or ():
            if not 0.003 <= wall_m <= 0.2:
                raise ValueError(f"a wall of {wall_m * 1000:g} mm|3 to 200 mm|correct the wall and its unit")
        return self


class BagKind(Section):
    """A bag by its flat size; the water is what one bag carries."""

    flat_m: Annotated[tuple[LengthM, LengthM], Field(description="width, length")]
    water_m3: VolumeM3


class BoxesFile(Section):
    """``boxes.toml``."""

    box: dict[str, BoxKind]
    bag: dict[str, BagKind]
    salinity_g_kg: Annotated[float, Field(ge=0, le=45)]
    fill_kg_m3: Annotated[float, Field(gt=0)]
    least_headroom_m: LengthM
    bag_layers: Annotated[int, Field(ge=1, le=6)] = 2  # bags one in another
    bag_spread: Annotated[Chance, Field(le=0.5)] = 0.05  # how much nearer to the outside the outermost bag is
    contact_factor: Multiple = 1.0  # on the resistance between water and wall, and over the bags, see calibration
    fill_factor: Multiple = 1.0


# --------------------------------------------------------------- packs.toml


class HeatPackKind(Section):
    """An air-activated warmer."""

    mass_kg: MassKg
    rated_h: DurationH
    iron_share: Chance
    start_up_h: Annotated[DurationH, Field(ge=0.01, le=20)] = 1.0  # time constant of its start in a room
    decay_order: Chance = 0.5  # 0 even heat, 1 heat that falls off from the start
    price_cents: MoneyCents | None = None


class ColdPackKind(Section):
    """An ice, gel or phase-change pack."""

    mass_kg: MassKg
    melts_C: TemperatureC
    latent_J_kg: LatentJKg
    start_C: TemperatureC
    melted_share: Chance = 0.0  # already melted when packed; counts only at its melting point
    price_cents: MoneyCents | None = None


class ShieldKind(Section):
    """What lies between pack and bags: board or foam, and the share of it cut out."""

    thickness_m: Annotated[LengthM, Field(ge=0.0005, le=0.05)]
    conductivity_W_mK: Annotated[ConductivityWMK, Field(ge=0.01, le=0.5)]
    open_share: Chance = 0.0


class PlanChoice(Section):
    """One way to pack, to be tried on every order."""

    heat: Name | None = None
    cold: Name | None = None
    count: Annotated[int, Field(ge=0, le=4)] = 0
    lid_hole_m: LengthM = 0.0
    shield: bool = True
    shield_kind: Name = "card"
    wrap_sheets: Annotated[int, Field(ge=0, le=6)] | None = None  # left out: wrap-share as it stands

    @model_validator(mode="after")
    def _one_side(self) -> Self:
        if self.heat is not None and self.cold is not None:
            raise ValueError("heat and cold in one plan|one of the two|split it into two plans")
        if (self.heat is None and self.cold is None) != (self.count == 0):
            raise ValueError(f"count {self.count}|a count of 1 to 4 exactly when a pack is named|correct count")
        return self


class PacksFile(Section):
    """``packs.toml``."""

    heat: dict[str, HeatPackKind]
    cold: dict[str, ColdPackKind]
    plan: dict[str, PlanChoice]
    wrap_share: Chance
    shield: dict[str, ShieldKind] = Field(default_factory=dict)
    opened_at_C: TemperatureC | None = None  # air in which warmers are opened; left out: a room


# --------------------------------------------------------------- rules.toml


class Thumb(Section):
    """Rules of thumb, spoken beside the model."""

    heat_pack_below_C: TemperatureC
    cold_pack_above_C: TemperatureC
    hold_below_C: TemperatureC
    hold_above_C: TemperatureC
    spread_K: RiseK
    hub_hold_below_C: TemperatureC
    hub_hold_above_C: TemperatureC
    stricter_wins: bool


class Doubts(Section):
    """Stated uncertainties tried one at a time on every verdict."""

    wall_low: Multiple
    wall_high: Multiple
    supply_low: Multiple
    supply_high: Multiple
    forecast_K: RiseK
    forecast_K_per_h: Annotated[float, Field(ge=0)]
    forecast_sigmas: Factor
    stale_factor: Factor
    start_K: Annotated[RiseK, Field(le=5)] = 0.5


class Choosing(Section):
    """How near-equal plans are told apart."""

    least_gain: Chance
    wait_gain: Chance
    ballast_kg: MassKg


class Members(Section):
    """Weathers and doubts drawn together for every verdict."""

    count: Annotated[int, Field(ge=16, le=20000)] = 200
    seed: Annotated[int, Field(ge=0, lt=2**63)] = 20261125


class RulesFile(Section):
    """``rules.toml``."""

    thumb: Thumb
    doubts: Doubts
    choosing: Choosing
    members: Members = Members()


class Settings(Section):
    """The files of a shop folder, read and checked."""

    shop: ShopFile
    lanes: LanesFile
    cargo: CargoFile
    boxes: BoxesFile
    packs: PacksFile
    rules: RulesFile
    desk: DeskFile
    service: ServiceFile
    learn: LearnFile
    calibration: Calibration | None = None  # from calibration.toml; its values stand in the files above already
