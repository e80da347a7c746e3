"""In which finish a ball in stock is looked at: the box's, unless another is worth the work.

Worths are made up, so that what is chosen is right by hand.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from lanes.motion.settling import settle
from lanes.new_ball import limits_for
from lanes.reading import shelf
from lanes.reading.moments import Thing
from lanes.reading.shelf import SURFACES, offers, refinished, search
from lanes.reading.shelf_output import plan_json

from .bowlers import PLASTIC, SOLID, plastic_only

STRONG = Thing("stock 1", replace(SOLID, name="Strong", grit=3000.0))
WEAK = Thing("stock 2", replace(SOLID, name="Weak", grit=3000.0))
PEARL = Thing("stock 3", replace(SOLID, name="Pearl", cover="pearl", grit=4000.0, polished=True))


class MadeUp:
    """A shelf on which each thing is worth what the test says; 0.3 where it says nothing."""

    def __init__(self, **worths: float) -> None:
        self.worths = worths
        self.asked: list[str] = []

    def with_(self, thing: Thing) -> list[Thing]:
        return [thing]

    def worth(self, things: list[Thing], closely: bool) -> float:
        assert not closely
        self.asked.append(things[0].key)
        return self.worths.get(things[0].key, 0.3)


def chosen(**worths: float) -> list[str]:
    return [one.key for one in offers(MadeUp(**worths), [STRONG, WEAK, PEARL])]


def test_each_ball_comes_once_and_from_the_box_where_nothing_is_better():
    assert chosen() == ["stock 1", "stock 2", "stock 3"]


def test_another_finish_is_taken_where_it_is_worth_more_than_the_models_doubt():
    assert (
        chosen(**{"stock 3 to 1000 False": 0.3 + 2 * shelf._WITHIN})[2] == "stock 3 to 1000 False"
    )
    assert chosen(**{"stock 3 to 1000 False": 0.3 + 0.5 * shelf._WITHIN})[2] == "stock 3"


def test_finishes_are_tried_on_the_best_ball_of_each_cover():
    made_up = MadeUp(**{"stock 2": 0.4})
    offers(made_up, [STRONG, WEAK, PEARL])
    tried = {key.split(" to ")[0] for key in made_up.asked if " to " in key}
    assert tried == {"stock 2", "stock 3"}


def test_a_finish_is_fresh_one_of_the_shops_and_not_that_of_the_box():
    for thing in (STRONG, PEARL):
        made = refinished(thing)
        finishes = {(one.spec.grit, one.spec.polished) for one in made}
        assert finishes == set(SURFACES) - {(thing.spec.grit, thing.spec.polished)}
        for one in made:
            assert (one.box, one.of) == (thing.key, None)
            same = {"grit": None, "polished": None, "games": None}
            assert replace(one.spec, **same) == replace(thing.spec, **same)


def test_the_plan_tells_the_article_its_price_and_that_it_is_resurfaced(monkeypatch):
    monkeypatch.setattr(shelf, "offers", lambda _, stock: [refinished(one)[0] for one in stock])
    at_hand, limits = [Thing("1", PLASTIC, of="1")], limits_for(15.0)
    found = search([plastic_only()], at_hand, [STRONG, PEARL], limits, settle())
    data = plan_json(found, limits, {"stock 1": "180.00", "stock 3": "150.00"})
    assert {one["key"]: one["price"] for one in data["stock"]} == {
        "stock 1": "180.00", "stock 3": "150.00",
    }  # fmt: skip
    assert [one["fresh"] for one in data["stock"]] == [True, True]
    for one in data["stock"]:
        box = STRONG if one["key"] == "stock 1" else PEARL
        assert (one["grit"], one["polished"]) != (box.spec.grit, box.spec.polished)


@pytest.mark.django_db
def test_the_page_says_that_the_work_is_part_of_the_offer(made, as_user, bag):
    plan = made(clear=True)
    (stock,) = plan.data["stock"]
    address = f"/clients/{bag.sam_client.pk}/new-ball/"
    html = as_user(bag.otto).get(address).content.decode()
    assert "1000 grit from the box" in html
    assert "and the surface work" not in html
    stock["fresh"] = True
    plan.save()
    html = as_user(bag.otto).get(address).content.decode()
    assert "1000 grit made in the shop before it is handed over" in html
    assert "and the surface work" in html
