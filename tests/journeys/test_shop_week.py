"""A made-up week of a made-up shop, from the first command to the export, through the commands alone.

No outside source: orders, people and weather are invented (one temperature a place and day, 4 K up and down over the
day). What each morning must say follows from the rules by hand: 22 degC all the way goes; -25 degC holds (below the
20 degF of the rules of thumb); 9 degC is under the 55 degF at which the rules ask for a heat pack.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

PLACES = {
    "origin": (37.55, -77.46),
    "hub": (41.92, -87.65),
    "orlando": (28.54, -81.37),
    "duluth": (46.77, -92.09),
    "denver": (39.74, -104.99),
}
TUESDAY = {"origin": 20.0, "hub": 20.0, "orlando": 22.0, "duluth": -25.0, "denver": 9.0}
WEDNESDAY = TUESDAY | {"duluth": 20.0}
ORDERS = """reference,zip,item,piece kind,piece bag,piece price,recipient,e-mail,hand-over
W-1,32801,green leather,soft-coral,bag-4x8,40,Ada Example,ada@example.org,met
W-1,32801,pulsing xenia,soft-coral,bag-4x8,25.50,Ada Example,ada@example.org,met
W-2,55802,blue tips,small-polyp-stony,bag-4x8,60,Bo Example,bo@example.org,met
W-3,32801,old leather 1,soft-coral,bag-8x15,80,Cy Example,cy@example.org,met
W-3,32801,old leather 2,soft-coral,bag-8x15,80,Cy Example,cy@example.org,met
W-3,32801,old leather 3,soft-coral,bag-8x15,80,Cy Example,cy@example.org,met
W-3,32801,old leather 4,soft-coral,bag-8x15,80,Cy Example,cy@example.org,met
W-3,32801,old leather 5,soft-coral,bag-8x15,80,Cy Example,cy@example.org,met
W-3,32801,old leather 6,soft-coral,bag-8x15,80,Cy Example,cy@example.org,met
W-4,80202,candy,large-polyp-stony,bag-6x12,90,Di Example,di@example.org,met
W-5,99999,lost zip,soft-coral,bag-4x8,30,Ed Example,ed@example.org,met
"""


@dataclass(frozen=True)
class Week:
    """The shop of this week: its commands with their shop, and its weather."""

    run: Callable[..., Any]
    shop: Path
    base: Path

    def do(self, *arguments: object, now: str = "2026-04-20T23:00Z", code: int = 0, **options: object) -> Any:
        """Run a command on the shop at an instant; it must end as said."""
        extra = [part for name, value in options.items() for part in (f"--{name.replace('_', '-')}", value)]
        ended = self.run(*arguments, "--shop", self.shop, "--now", now, *extra)
        assert ended.code == code, (arguments, ended.out, ended.err)
        return ended

    def states(self) -> dict[str, str]:
        """Give the state of every order."""
        return {row["order"]: row["state"] for row in self.run("orders", "list", "--shop", self.shop, "--json").json}

    def show(self, order: str) -> Any:
        return self.run("orders", "show", order, "--shop", self.shop, "--json").json

    def weather(self, name: str, issued: str, air_C: dict[str, float]) -> Path:
        """Write a folder of forecasts in the form of the grid service, issued at an hour."""
        folder = self.base / name
        folder.mkdir()
        begins = datetime.fromisoformat(issued).replace(hour=4, minute=0)
        for number, (place, (north, east)) in enumerate(PLACES.items()):
            hours = [
                {
                    "validTime": f"{(begins + timedelta(hours=hour)).isoformat()}/PT1H",
                    "value": round(air_C[place] - 4.0 * math.cos((hour - 5) / 24 * math.tau), 1),
                }
                for hour in range(7 * 24)
            ]
            always = {"windSpeed": ("wmoUnit:km_h-1", 8), "skyCover": ("wmoUnit:percent", 90),
                      "relativeHumidity": ("wmoUnit:percent", 60), "windGust": ("wmoUnit:km_h-1", 12),
                      "probabilityOfPrecipitation": ("wmoUnit:percent", 0)}  # fmt: skip
            span = f"{begins.isoformat()}/P7D"
            corners = [(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)]
            document = {
                "type": "Feature",
                "geometry": {
                    "type": "Polygon",
                    "coordinates": [[[east + 0.0125 * x, north + 0.0125 * y] for x, y in corners]],
                },
                "properties": {
                    "updateTime": issued, "validTimes": span, "gridId": "XYZ", "gridX": number, "gridY": number,
                    "elevation": {"unitCode": "wmoUnit:m", "value": 50}, "hazards": {"values": []},
                    "temperature": {"uom": "wmoUnit:degC", "values": hours},
                    **{layer: {"uom": uom, "values": [{"validTime": span, "value": value}]}
                       for layer, (uom, value) in always.items()},
                },
            }  # fmt: skip
            (folder / f"gridpoint_{place}.json").write_text(json.dumps(document), encoding="utf-8")
        return folder


@pytest.fixture
def week(run: Callable[..., Any], keys: Callable[..., None], tmp_path: Path) -> Week:
    """Make the shop with ``init``; it looks one day ahead and packs one way or none, which is fast."""
    shop = tmp_path / "cove"
    made = run("init", shop, "--origin", "23220", "--hub", "41.92,-87.65 America/Chicago")
    assert made.code == 0
    assert {path.stem for path in shop.glob("*.toml")} >= {"shop", "lanes", "boxes", "packs", "rules", "desk"}
    keys(shop, window_days="1", plots="false", name='"Anemone Cove"')
    packs = (shop / "packs.toml").read_text(encoding="utf-8")
    plans = set(re.findall(r"(?m)^\[plan\.(.+)\]$", packs)) - {"none", "one-heat"}
    dropped = "[plan]\n" + "".join(f"{name} = false\n" for name in sorted(plans))
    (shop / "packs.toml").write_text(dropped, encoding="utf-8")
    own = "[messages]\nfrom-name = 'Anemone Cove'\nfrom-address = 'bench@example.org'\nreach-us = '555-0100'\n"
    (shop / "desk.toml").write_text(own, encoding="utf-8")
    return Week(run, shop, tmp_path)


def test_a_week_at_the_cove(week: Week, pdf_pages: Callable[[Path], list[str]]) -> None:
    monday_evening(week)
    tuesday_morning(week)
    tuesday_at_the_bench(week, pdf_pages)
    tuesday_night(week)
    wednesday(week)
    thursday_and_after(week)
    what_the_book_says_in_the_end(week)


def monday_evening(week: Week) -> None:
    """Orders come in with the shop's own headings; one row is wrong and waits aside until it is corrected."""
    file = week.base / "sold.csv"
    file.write_text(ORDERS, encoding="utf-8")
    tried = week.do("orders", "import", file, "--dry-run", "--json", code=3).json
    assert (len(tried["added"]), week.states()) == (4, {})
    taken = week.do("orders", "import", file, "--json", code=3).json
    assert taken["added"] == ["W-1", "W-2", "W-3", "W-4"]
    assert [(p["line"], p["column"], p["order"]) for p in taken["problems"]] == [(12, "destination", "W-5")]
    again = week.do("orders", "import", file, "--json", code=3).json
    assert (again["added"], again["changed"], again["unchanged"]) == ([], [], taken["added"])
    assert set(week.states().values()) == {"open"}
    # the row kept aside, corrected and brought in
    aside = week.base / "aside.csv"
    week.run("orders", "aside", "--shop", week.shop, "--csv", aside)
    rows = aside.read_text(encoding="utf-8")
    assert "99999" in rows
    aside.write_text(rows.replace("99999", "32801"), encoding="utf-8")
    assert week.do("orders", "import", aside, "--json").json["added"] == ["W-5"]
    assert week.run("orders", "aside", "--shop", week.shop, "--json").json == []
    shown = week.show("W-1")
    assert [line["coral"] for line in shown["lines"]] == ["green leather", "pulsing xenia"]
    assert shown["contact"]["name"] == "Ada Example"
    assert not any("Ada" in json.dumps(event) for event in shown["events"])  # people never stand in the log


def tuesday_morning(week: Week) -> None:
    """Asked and advised: one order needs two boxes, one must wait, one wants a warmer."""
    weather = week.weather("tuesday", "2026-04-21T09:38:00+00:00", TUESDAY)
    morning: dict[str, Any] = {"now": "2026-04-21T10:45Z", "forecasts": weather}
    asked = week.do("check", "32801", "--json", handover="met", **morning)
    (week.base / "answer.json").write_text(asked.out, encoding="utf-8")
    assert asked.json["answer"] in {"accept", "accept-if"}
    letter = week.do("messages", "write", "answer", "W-1", "--json", check=week.base / "answer.json").json[0]
    assert letter["kind"] == "accept"
    first = week.do("advise", "--json", code=3, **morning).json
    assert [problem["order"] for problem in first["problems"]] == ["W-3"]
    assert "orders split W-3" in first["problems"][0]["do"]
    week.do("orders", "split", "W-3", now="2026-04-21T10:50Z")
    boxes = [week.show(f"W-3/{n}") for n in (1, 2)]
    assert sum(len(box["lines"]) for box in boxes) == 6
    assert sum(float(box["value"]) for box in boxes) == pytest.approx(480.0, abs=0.001)  # cents, exactly shared

    advised = week.do("advise", "--move", "--json", out=week.base / "out", **morning).json
    advices = {order["order"]: order["advice"] for order in advised["orders"]}
    assert advices == {
        "W-1": "go", "W-2": "hold", "W-4": "pack-with-heat", "W-5": "go", "W-3/1": "go", "W-3/2": "go"
    }  # fmt: skip
    held = next(order for order in advised["orders"] if order["order"] == "W-2")
    assert "destination" in (held["worst_leg"] or "") + " ".join(held["reasons"])
    for order in advised["orders"]:
        if order["advice"] != "hold":
            assert order["chance_of_loss"]["combined"] <= order["chance_of_loss"]["limit"]
    states = week.states()
    assert states.pop("W-3") == "cancelled"
    assert states == {name: "held" if advice == "hold" else "planned" for name, advice in advices.items()}
    week.do("advise", "--move", **morning)  # the same again: nothing is written twice
    kinds = Counter(event["kind"] for event in week.show("W-2")["events"])
    assert kinds == Counter({"added": 1, "advised": 1, "moved": 1})


def tuesday_at_the_bench(week: Week, pdf_pages: Callable[[Path], list[str]]) -> None:
    """Paper, letters, packed boxes at the drop-off."""
    out = week.base / "out" / "2026-04-21"
    given: dict[str, Any] = {"now": "2026-04-21T14:00Z", "advisory": out / "advisory.json"}
    sheets = week.do("sheets", "--json", out=week.base / "out", **given).json
    todo = [row["order"] for row in sheets["work_list"]["work"]]
    assert sorted(todo) == ["W-1", "W-3/1", "W-3/2", "W-4", "W-5"]
    assert [row["order"] for row in sheets["work_list"]["held"]] == ["W-2"]
    assert sheets["work_list"]["minutes_needed"] == pytest.approx(5 * 12 + 10 * 3)  # 12 min a box, 3 min a coral
    paper = pdf_pages(out / "sheets.pdf")
    assert len(paper) == 1 + 5
    warm = next(text for text in paper[1:] if "W-4" in text)
    assert "40 h" in warm
    assert "candy" in warm
    assert sum("box 1 of 2" in text or "box 2 of 2" in text for text in paper[1:]) == 2
    labels = " ".join(pdf_pages(out / "bag-labels.pdf"))
    assert labels.count("pulsing xenia") == 2  # inner and outer bag
    page = (out / "sheets.html").read_text(encoding="utf-8")
    assert all(f">{order}<" in page or order in page for order in todo)
    letters = week.do("messages", "write", "today", "--json", **given).json
    said = {row["order"]: row for row in letters}
    assert {name: row["kind"] for name, row in said.items()} == {
        "W-2": "hold", **dict.fromkeys(todo, "ship-confirmed")
    }  # fmt: skip
    assert "box 2 of 2 of your order W-3" in Path(said["W-3/2"]["file"]).read_text(encoding="utf-8")
    text = Path(said["W-1"]["file"]).read_text(encoding="utf-8")
    assert "Ada Example <ada@example.org>" in text
    assert not re.search(r"\d ?%", text)  # a chance of loss is told to no customer
    for order in todo:
        week.do("orders", "move", order, "packed", now="2026-04-21T18:00Z", who="Kim")
        week.do("orders", "move", order, "handed-over", now="2026-04-21T20:30Z", who="Kim")
    refused = week.do("orders", "move", "W-2", "arrived", now="2026-04-21T20:31Z", code=2)
    assert "step by step" in refused.err
    assert Counter(week.states().values()) == Counter({"handed-over": 5, "held": 1, "cancelled": 1})


def tuesday_night(week: Week) -> None:
    """Four boxes are seen at the hub, one is not: the watch list says so, and what to do."""
    for order in ("W-1", "W-3/1", "W-4", "W-5"):
        week.do("orders", "scan", order, "--at", "hub", time="23:40", now="2026-04-22T05:00Z")
    again = week.do("orders", "scan", "W-1", "--at", "hub", time="23:40", now="2026-04-22T05:00Z")
    assert again.out.startswith("already noted")
    night: dict[str, Any] = {"now": "2026-04-22T08:00Z", "forecasts": week.base / "tuesday"}
    boxes = {box["order"]: box for box in week.do("watch", "--json", **night).json["boxes"]}
    assert {name: box["missed"] for name, box in boxes.items() if box["missed"]} == {"W-3/2": ["hub"]}
    lost = boxes["W-3/2"]
    assert "Call the carrier" in next(each for each in lost["expected"] if each["point"] == "hub")["do"]
    assert lost["water"]["safe_low_C"] < lost["water"]["central_C"] < 28.0
    assert {row["name"] for row in boxes["W-1"]["rows"]} >= {"as planned", "one day late"}


def wednesday(week: Week) -> None:
    """Three boxes arrive, one is told to be a day late; the weather for the held one has turned."""
    weather = week.weather("wednesday", "2026-04-22T09:38:00+00:00", WEDNESDAY)
    morning: dict[str, Any] = {"now": "2026-04-22T10:45Z", "forecasts": weather}
    advised = week.do("advise", "--move", "--json", **morning).json
    assert {order["order"]: order["advice"] for order in advised["orders"]} == {"W-2": "go"}
    entry = week.show("W-2")
    assert (entry["state"], entry["plan"]["ship_day"]) == ("planned", "2026-04-22")
    week.do("orders", "scan", "W-3/2", "--delay", "late-at-hub", now="2026-04-22T11:30Z")
    box = week.do("watch", "W-3/2", "--json", now="2026-04-22T12:00Z", forecasts=weather).json["boxes"][0]
    assert box["followed"] == "late-at-hub"
    assert {row["delivered_at"][:10] for row in box["rows"] if row["name"] == "late-at-hub"} == {"2026-04-23"}
    assert all(0.0 <= action["chance"] <= 1.0 for action in box["actions"])
    letter = week.do(
        "messages", "write", "delayed", "W-3/2", "--json", now="2026-04-22T12:10Z", new_arrival="2026-04-23T10:30"
    ).json[0]
    assert "Thursday, 23 April at 10:30 am" in Path(letter["file"]).read_text(encoding="utf-8")
    for order in ("W-1", "W-3/1", "W-4", "W-5"):
        week.do("orders", "scan", order, "--at", "delivered", time="2026-04-22T14:20Z", now="2026-04-22T14:30Z")
        week.do("orders", "move", order, "arrived", now="2026-04-22T15:00Z")
    assert week.do("watch", "--json", now="2026-04-22T15:00Z", forecasts=weather).json["boxes"][0]["order"] == "W-3/2"


def thursday_and_after(week: Week) -> None:
    """Water measured, one coral lost, one claim in time and one late; people decide both."""
    week.do(
        "arrivals", "record", order="W-1", at="2026-04-22T14:35Z", water="74 degF", coral="green leather:well",
        days_late=0, now="2026-04-22T16:00Z",
    )  # fmt: skip
    week.do("arrivals", "record", order="W-4", coral="candy:dead", days_late=0, now="2026-04-22T16:00Z")
    known = week.do("arrivals", "record", order="W-4", coral="candy:dead", days_late=0, now="2026-04-23T16:00Z")
    assert "known already" in known.err
    arrived = {row["order"]: row for row in week.run("arrivals", "list", "--shop", week.shop, "--json").json}
    assert arrived["W-1"]["water_C"] == pytest.approx((74 - 32) / 1.8, abs=0.005)  # kept to a hundredth
    assert (arrived["W-4"]["lost"], arrived["W-4"]["seen"]) == (1, 1)
    # delivered 14:20Z by the scan; told 15:30Z, 70 minutes later, within the two hours of the promise
    claim = week.do(
        "claims", "report", "W-4", "--json", lost="candy", reported_at="2026-04-22T15:30Z", now="2026-04-22T15:40Z"
    ).json[0]
    assert (claim["claim"], claim["minutes"], claim["timing"], claim["state"]) == ("W-4-1", 70.0, "in time", "reported")
    for number in range(1, len(claim["needed"]) + 1):
        week.do("claims", "proof", "W-4-1", number, f"photos/{number}.jpg", now="2026-04-22T16:10Z")
    ready = week.run("claims", "show", "W-4-1", "--shop", week.shop, "--json").json[0]
    assert (ready["state"], ready["lacking"]) == ("ready", [])
    unnamed = week.do("claims", "decide", "W-4-1", "credit", now="2026-04-22T17:00Z", code=2)
    assert "without a name" in unnamed.err
    decided = ("--by", "Kim", "--why", "the warmer was a dud", "--amount", "90")
    week.do("claims", "decide", "W-4-1", "credit", *decided, now="2026-04-22T17:00Z")
    week.do("claims", "settle", "W-4-1", now="2026-04-23T08:00Z")
    week.do("orders", "scan", "W-3/2", "--at", "delivered", time="2026-04-23T14:25Z", now="2026-04-23T14:30Z")
    week.do("orders", "move", "W-3/2", "arrived", now="2026-04-23T14:40Z")
    late = week.do("claims", "report", "W-3/2", "--json", reported_at="2026-04-23T20:00Z", now="2026-04-23T20:05Z").json
    assert (late[0]["timing"], late[0]["minutes"]) == ("late", 335.0)
    week.do("claims", "withdraw", "W-3/2-1", now="2026-04-24T08:00Z")
    assert week.run("claims", "list", "--shop", week.shop, "--json").json == []
    for order in ("W-1", "W-3/1", "W-3/2", "W-4", "W-5"):
        week.do("orders", "move", order, "closed", now="2026-04-28T12:00Z")


def what_the_book_says_in_the_end(week: Week) -> None:
    """The log rebuilds the state; what goes out comes in again elsewhere; a customer can be forgotten."""
    own = ("--shop", week.shop)
    ends = {"W-2": "planned", "W-3": "cancelled", **dict.fromkeys(("W-1", "W-3/1", "W-3/2", "W-4", "W-5"), "closed")}
    assert week.states() == ends
    kinds = [(event["kind"], event["body"].get("to", "")) for event in week.show("W-4")["events"]]
    assert kinds == [
        ("added", ""), ("advised", ""), ("moved", "planned"), ("moved", "packed"), ("moved", "handed-over"),
        ("scanned", ""), ("scanned", ""), ("moved", "arrived"), ("moved", "closed"),
    ]  # fmt: skip
    assert {event["who"] for event in week.show("W-4")["events"] if event["body"].get("to") == "packed"} == {"Kim"}
    before = [week.show(order) for order in ends]
    assert week.run("orders", "rebuild", "--check", *own).code == 0
    assert week.run("orders", "rebuild", *own).out == "every order is as the log says\n"
    assert [week.show(order) for order in ends] == before

    out = week.base / "all.csv"
    week.run("orders", "export", out, "--contacts", *own)
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8"))))
    assert {row["order"]: row["state"] for row in rows} == ends
    other = week.base / "other"
    assert week.run("init", other, "--origin", "23220", "--hub", "41.92,-87.65 America/Chicago").code == 0
    taken = week.run("orders", "import", out, "--shop", other, "--json").json
    assert (sorted(taken["added"]), taken["problems"]) == (sorted(ends), [])
    assert corals(week.run("orders", "show", "W-3/1", "--shop", other, "--json").json) == corals(week.show("W-3/1"))
    week.do("orders", "forget", "W-1", now="2026-05-30T12:00Z")
    assert "Ada" not in json.dumps(week.show("W-1"))
    assert "Ada" not in week.run("orders", "export", "--contacts", "--json", *own).out


def corals(shown: Any) -> Iterable[tuple[str, str]]:
    return [(line["coral"], line["bag"]) for line in shown["lines"]]
