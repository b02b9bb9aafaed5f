"""A builder of small gridpoint documents, and a weather service on loopback that can misbehave.

The numbers are invented; only the form follows the service. Recorded payloads are used by
``tests/reference/test_recorded_gridpoints.py``.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from shipwindow.forecast.sources.nws import NwsSource
from shipwindow.places import Place

NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
LAT, LON = 40.0, -90.0


def layer(values: list[tuple[datetime, str, Any]], uom: str | None) -> dict[str, Any]:
    """Make one layer from (start, duration, value)."""
    made: dict[str, Any] = {
        "values": [{"validTime": f"{at.isoformat()}/{length}", "value": value} for at, length, value in values]
    }
    if uom is not None:
        made["uom"] = uom
    return made


def document(
    issued_at: datetime = NOW - timedelta(hours=1),
    hours: int = 48,
    office: str = "TST",
    x: Any = "10",
    y: Any = "20",
    latitude_deg: float = LAT,
    longitude_deg: float = LON,
    air_C: Callable[[int], float | None] = lambda hour: 10.0 + hour % 24 / 4,
    **changes: Any,
) -> dict[str, Any]:
    """Make a gridpoint document; ``changes`` replace properties, and None takes one away."""
    start_at = (issued_at - timedelta(hours=6)).replace(minute=0, second=0, microsecond=0)
    half = 0.012
    ring = [(-half, -half), (-half, half), (half, half), (half, -half), (-half, -half)]
    properties: dict[str, Any] = {
        "updateTime": issued_at.isoformat(),
        "validTimes": f"{start_at.isoformat()}/PT{hours}H",
        "elevation": {"unitCode": "wmoUnit:m", "value": 150.0},
        "gridId": office,
        "gridX": x,
        "gridY": y,
        "temperature": layer([(start_at + timedelta(hours=h), "PT1H", air_C(h)) for h in range(hours)], "wmoUnit:degC"),
        "windSpeed": layer([(start_at, f"PT{hours}H", 18.0)], "wmoUnit:km_h-1"),
        "windGust": layer([(start_at, f"PT{hours}H", 36.0)], "wmoUnit:km_h-1"),
        "skyCover": layer([(start_at, f"PT{hours}H", 25)], "wmoUnit:percent"),
        "relativeHumidity": layer([(start_at, f"PT{hours}H", 60)], "wmoUnit:percent"),
        "probabilityOfPrecipitation": layer([(start_at, f"PT{hours}H", 30)], "wmoUnit:percent"),
        "hazards": {"values": []},
    }
    for key, value in changes.items():
        if value is None:
            properties.pop(key, None)
        else:
            properties[key] = value
    return {
        "type": "Feature",
        "geometry": {
            "type": "Polygon",
            "coordinates": [[[longitude_deg + dlon, latitude_deg + dlat] for dlat, dlon in ring]],
        },
        "properties": properties,
    }


def met_document(
    issued_at: datetime = NOW - timedelta(hours=1),
    hours: int = 24,
    six_hourly: int = 0,
    latitude_deg: float = 52.5,
    longitude_deg: float = 13.4,
    air_C: Callable[[int], float] = lambda _: 10.0,
    instant: dict[str, Any] | None = None,
    one: dict[str, Any] | None = None,
    six: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Make a Locationforecast document: hourly points from ``NOW``, then six-hourly ones, the last without a span."""
    units = {
        "air_temperature": "celsius", "air_temperature_max": "celsius", "air_temperature_min": "celsius",
        "air_temperature_percentile_10": "celsius", "air_temperature_percentile_90": "celsius",
        "wind_speed": "m/s", "wind_speed_of_gust": "m/s", "cloud_area_fraction": "%", "relative_humidity": "%",
        "precipitation_amount": "mm", "probability_of_precipitation": "%",
    }  # fmt: skip
    start_at = NOW.replace(minute=0)
    at_h = [*range(hours), *(hours + 6 * step for step in range(six_hourly + 1))]
    series = []
    for number, hour in enumerate(at_h):
        details = {"air_temperature": air_C(hour), "wind_speed": 3.0, "cloud_area_fraction": 25.0}
        data: dict[str, Any] = {"instant": {"details": {**details, "relative_humidity": 60.0, **(instant or {})}}}
        if number < len(at_h) - 1:
            if hour < hours:
                data["next_1_hours"] = {"details": {"precipitation_amount": 0.0} if one is None else one}
            data["next_6_hours"] = {"summary": {}, "details": {"precipitation_amount": 0.0, **(six or {})}}
        series.append({"time": f"{start_at + timedelta(hours=hour):%Y-%m-%dT%H:%M:%SZ}", "data": data})
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [longitude_deg, latitude_deg, 25]},
        "properties": {
            "meta": {"updated_at": f"{issued_at:%Y-%m-%dT%H:%M:%SZ}", "units": units},
            "timeseries": series,
        },
    }


def columns(
    hours: int = 24, offset_s: int = 0, air_C: Callable[[int], float] = lambda _: 10.0, **changes: Any
) -> dict[str, Any]:
    """Make an answer in columns from ``NOW`` on."""
    start_at = NOW.replace(minute=0)
    return {
        "latitude": 52.52,
        "longitude": 13.42,
        "utc_offset_seconds": offset_s,
        "elevation": 38.0,
        "hourly_units": {
            "time": "iso8601", "temperature_2m": "°C", "wind_speed_10m": "km/h", "cloud_cover": "%",
            "relative_humidity_2m": "%", "wind_gusts_10m": "km/h", "precipitation_probability": "%",
        },
        "hourly": {
            "time": [f"{start_at + timedelta(hours=hour):%Y-%m-%dT%H:%M}" for hour in range(hours)],
            "temperature_2m": [air_C(hour) for hour in range(hours)],
            "wind_speed_10m": [18.0] * hours,
            "cloud_cover": [25] * hours,
            "relative_humidity_2m": [60] * hours,
            "wind_gusts_10m": [36.0] * hours,
            "precipitation_probability": [30] * hours,
        },
        **changes,
    }  # fmt: skip


def alert(event: str, **properties: Any) -> dict[str, Any]:
    """Make one alert that is in force."""
    return {
        "type": "Feature",
        "properties": {
            "event": event,
            "status": "Actual",
            "messageType": "Alert",
            "severity": "Severe",
            "headline": f"{event} until tonight",
            "onset": NOW.isoformat(),
            "ends": (NOW + timedelta(hours=9)).isoformat(),
            "expires": (NOW + timedelta(hours=3)).isoformat(),
            **properties,
        },
    }


@dataclass
class Said:
    """One scripted answer."""

    status: int = 200
    body: bytes = b"{}"
    headers: dict[str, str] = field(default_factory=dict)
    wait_s: float = 0.0
    drip_s: float = 0.0
    promise_bytes: int | None = None
    chunks: int | None = None


@dataclass
class Asked:
    """One request as the service saw it."""

    path: str
    headers: dict[str, str]


class Service:
    """A service on loopback with a script a path; the last answer of a script repeats."""

    def __init__(self) -> None:
        self.asked: list[Asked] = []
        self.scripts: dict[str, list[Said]] = {}
        self.over = threading.Event()
        outer = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:
                outer.asked.append(Asked(self.path, {k.lower(): v for k, v in self.headers.items()}))
                outer.answer(self)

            def log_message(self, *_: object) -> None:
                """Stay silent."""

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.address = f"http://127.0.0.1:{self.server.server_address[1]}"
        self.thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        self.thread.start()

    def answer(self, handler: BaseHTTPRequestHandler) -> None:
        """Say the next line of the script."""
        script = self.scripts.get(handler.path)
        said = Said(404, b'{"type": "x/NotScripted"}') if script is None else script[0]
        if script is not None and len(script) > 1:
            script.pop(0)
        if said.wait_s:
            self.over.wait(said.wait_s)
        try:
            self._head(handler, said)
            for piece in self._pieces(said):
                handler.wfile.write(piece)
        except (BrokenPipeError, ConnectionResetError):
            handler.close_connection = True

    @staticmethod
    def _head(handler: BaseHTTPRequestHandler, said: Said) -> None:
        handler.send_response_only(said.status)
        for name, value in said.headers.items():
            handler.send_header(name, value)
        if said.chunks:
            handler.send_header("Transfer-Encoding", "chunked")
        elif said.status != 304:
            handler.send_header("Content-Length", str(said.promise_bytes or len(said.body)))
        handler.end_headers()
        if said.promise_bytes or said.drip_s:
            handler.close_connection = True

    def _pieces(self, said: Said) -> Iterator[bytes]:
        if said.drip_s:
            for at in range(len(said.body)):
                yield said.body[at : at + 1]
                if self.over.wait(said.drip_s):
                    return
        elif said.chunks:
            for at in range(0, len(said.body), said.chunks):
                piece = said.body[at : at + said.chunks]
                yield b"%x\r\n%s\r\n" % (len(piece), piece)
            yield b"0\r\n\r\n"
        elif said.status != 304:
            yield said.body

    def says(self, path: str, *answers: Said | dict[str, Any] | list[Any] | bytes) -> None:
        """Script the answers for a path."""
        self.scripts[path] = [
            each
            if isinstance(each, Said)
            else Said(body=each if isinstance(each, bytes) else json.dumps(each).encode())
            for each in answers
        ]

    def paths(self) -> list[str]:
        """Paths asked for so far, in order."""
        return [each.path for each in self.asked]

    def close(self) -> None:
        """End the service."""
        self.over.set()
        self.server.shutdown()
        self.server.server_close()
        self.thread.join(5)


POINT_PATH = "/points/40,-90"
GRID_PATH = "/gridpoints/TST/10,20"
ALERTS_PATH = "/alerts/active?point=40,-90"
PROBLEM = "https://api.weather.gov/problems/"


@pytest.fixture
def service() -> Iterator[Service]:
    """Give a service with one healthy place, TST/10,20 at 40 N 90 W, without alerts."""
    made = Service()
    made.says(POINT_PATH, point_document(made.address))
    made.says(GRID_PATH, document())
    made.says(ALERTS_PATH, {"type": "FeatureCollection", "features": []})
    yield made
    made.close()


def point_document(address: str, cell: str = "TST/10,20", zone: str = "America/Chicago") -> dict[str, Any]:
    """Make the look-up answer of a point. The office in ``cwa`` differs on purpose: it must not be used."""
    return {
        "properties": {
            "cwa": "XXX",
            "gridId": cell.partition("/")[0],
            "forecastGridData": f"{address}/gridpoints/{cell}",
            "timeZone": zone,
        }
    }


@pytest.fixture
def pauses() -> list[float]:
    """Pauses that would have been slept."""
    return []


@pytest.fixture
def open_nws(service: Service, pauses: list[float]) -> Iterator[Callable[..., NwsSource]]:
    """Open sources on the loopback service that note their pauses instead of sleeping."""
    opened: list[NwsSource] = []

    def make(**changes: Any) -> NwsSource:
        named = {"timeout_s": 5.0, "sleep": pauses.append, **changes}
        source = NwsSource(named.pop("contact", "shop@example.org"), named.pop("address", service.address), **named)
        opened.append(source)
        return source

    yield make
    for source in opened:
        source.close()


@pytest.fixture
def place() -> Place:
    """Give the place the healthy service knows."""
    return Place("Testville", LAT, LON, "America/Chicago")


@pytest.fixture
def kit() -> Any:
    """Give the builders above, for tests that cannot import this file."""

    class Kit:
        now = NOW
        point_path, grid_path, alerts_path, problem = POINT_PATH, GRID_PATH, ALERTS_PATH, PROBLEM
        said = Said
        document = staticmethod(document)
        point_document = staticmethod(point_document)
        layer = staticmethod(layer)
        met_document = staticmethod(met_document)
        columns = staticmethod(columns)
        alert = staticmethod(alert)

        @staticmethod
        def problem_said(status: int, kind: str, detail: str = "") -> Said:
            body = json.dumps({"type": PROBLEM + kind, "status": status, "title": kind, "detail": detail}).encode()
            return Said(status, body, {"Content-Type": "application/problem+json"})

        @staticmethod
        def wait_until(check: Callable[[], bool], within_s: float = 5.0) -> bool:
            end = time.monotonic() + within_s
            while not check():
                if time.monotonic() > end:
                    return False
                time.sleep(0.005)
            return True

    return Kit
