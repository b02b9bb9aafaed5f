"""What a customer is told of a verdict and of an answer: conditions in their words, and never a chance of loss.

No outside source: the rule is the project's own (a chance is the seller's tool and no promise).
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from shipwindow.advisory import beyond
from shipwindow.advisory.acceptance import Acceptance
from shipwindow.advisory.climate import ClimateSaid, Share
from shipwindow.advisory.letters import customer_conditions, depot_of, kind_for_answer, with_answer
from shipwindow.decide.explain import AGREES, CONFIRM, EXTRA_DAY
from shipwindow.desk.messages import Facts, draft
from shipwindow.errors import ConfigError
from shipwindow.settings import load_shop
from shipwindow.settings.models import Settings

FACTS = Facts(order="A-1", shop="Lagoon Bench", zone="America/Denver", us=True, destination="Fort Collins, CO 80521")


@pytest.fixture(scope="module")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder = tmp_path_factory.mktemp("shop")
    (folder / "shop.toml").write_text('[shop]\nname = "Lagoon Bench"\nplace = "33602"\n', encoding="utf-8")
    (folder / "lanes.toml").write_text('[hub.main]\nplace = "38118"\n', encoding="utf-8")
    depots = '[messages.depot.{0}]\npostcodes = ["{1}"]\nsays = "Depot {0}, 1 Cargo Road"\n'
    both = depots.format("wide", "80") + depots.format("near", "8050-8055")
    (folder / "desk.toml").write_text(both, encoding="utf-8")
    return load_shop(folder, environ={}).settings


def make_answer(answer: Any, **changes: Any) -> Acceptance:
    usual: dict[str, Any] = {
        "shop": "Lagoon Bench",
        "place": FACTS.destination,
        "asked_on": date(2026, 7, 15),
        "made_at": datetime(2026, 4, 22, tzinfo=UTC),
        "model": "test",
        "answer": answer,
        "says": "does not know",
        "conditions": (),
        "ship_day": None,
        "until": None,
        "reasons": ("the chance of loss is 44 %, over the limit of 5 %",),
        "order": None,
        "scale": "F",
        "cautions": (),
        "notes": (),
    }
    return Acceptance(**(usual | changes))


def test_conditions_are_told_in_the_customers_words() -> None:
    told = (
        "only if met at the door and opened by Thu 10:45",
        f"{AGREES} 8 %",
        f"{EXTRA_DAY}: no working day is left for a delay",
        f"{CONFIRM} that it works on Memorial Day, Mon 25 May",
        f"{beyond.FREE_DAY}: about 4 in 10 days can go, by next-noon",
        "only by next-morning or next-noon",
    )
    said = customer_conditions(told)
    assert said == (
        "met at the door and opened by Thu 10:45",
        "you know that the weather on the way is at the edge, and ask us to ship all the same",
        "you leave the choice of the day to us",
        "delivery next morning or next day by noon",
    )
    assert not any("%" in line for line in said)


def test_an_answer_fills_the_letter_it_calls_for(settings: Settings) -> None:
    desk = settings.desk
    yes = make_answer("accept-if", conditions=("only if collected at the depot",), ship_day=date(2026, 7, 16))
    assert kind_for_answer(yes) == "accept"
    letter = draft("accept", with_answer(FACTS, yes, settings), desk.messages, desk.policy, None, "F")
    assert "- collected at the depot" in letter.body
    assert "Thursday, 16 July" in letter.body
    share = Share(
        commitment="next-noon",
        handover="met",
        days=60,
        good_days=6,
        share=0.1,
        unknown_days=0,
        low=0.0,
        high=0.4,
        weeks=8,
        against="heat",
    )
    climate = ClimateSaid(around=date(2026, 7, 15), around_days=15, stations=(), shares=(share,), cautions=())
    no = make_answer("decline", until=date(2026, 10, 6), climate=climate)
    assert kind_for_answer(no) == "decline"
    letter = draft("decline", with_answer(FACTS, no, settings), desk.messages, desk.policy, None, "F")
    assert "from Tuesday, 6 October on" in letter.body
    assert "mostly because of heat" in letter.body
    assert "%" not in letter.body


def test_no_answer_and_another_place_make_no_letter(settings: Settings) -> None:
    with pytest.raises(ConfigError, match="no answer"):
        kind_for_answer(make_answer(None))
    with pytest.raises(ConfigError, match="own destination"):
        with_answer(FACTS, make_answer("accept", place="Tampa, FL 33602"), settings)


@pytest.mark.parametrize(("postcode", "says"), [("80521", "near"), ("80999", "wide"), ("33602", ""), ("", "")])
def test_the_depot_named_most_closely_is_quoted(settings: Settings, postcode: str, says: str) -> None:
    assert depot_of(postcode, settings.desk.messages) == (f"Depot {says}, 1 Cargo Road" if says else "")


def test_a_letter_to_a_depot_quotes_it_without_a_blank(settings: Settings) -> None:
    facts = Facts(
        order="A-1",
        shop="Lagoon Bench",
        zone="America/Denver",
        handover="depot",
        depot=depot_of("80521", settings.desk.messages),
    )
    letter = draft("ship-confirmed", facts, settings.desk.messages, settings.desk.policy, None, "F")
    assert "Depot: Depot near, 1 Cargo Road." in letter.body
