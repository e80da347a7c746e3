"""The limits as data: the published values, by weight of the ball and by day."""

from __future__ import annotations

from datetime import date

import pytest

from clients.drilling.rules import CHECKED, check, rules

TODAY = date(2026, 11, 25)


def verdicts(facts, *, mass_lb=15.0, on=TODAY, thumb=None):
    found = check(facts, mass_lb=mass_lb, on=on, thumb=thumb)
    return {finding.quantity: finding.verdict for finding in found}


@pytest.mark.parametrize(
    ("quantity", "low", "high"),
    [
        # Shared facts, section 2: USBC specification, excerpts seen.
        ("diameter", 8.500, 8.595),
        ("circumference", 26.704, 27.002),
        ("mass", None, 16.00),
        ("density", None, 3.80),
        ("rg", 2.460, 2.800),
        ("differential", None, 0.060),
        ("hardness", 73, None),
        ("top weight", None, 3),
        ("side weight", None, 3),
        ("finger weight", None, 3),
        ("balance holes", None, 0),
        ("gripping holes", None, 5),
        ("vent hole", None, 0.25),
    ],
)
def test_the_limits_in_force_are_the_published_ones(quantity, low, high):
    [finding] = check({quantity: 1.0}, mass_lb=15.0, on=TODAY)
    assert (finding.rule.low, finding.rule.high) == (low, high)
    assert finding.rule.strength == "published"
    step = 1 if quantity in ("balance holes", "gripping holes") else 0.001
    if high is not None:
        assert verdicts({quantity: high})[quantity] == "within"
        assert verdicts({quantity: high + step})[quantity] == "over"
    if low is not None:
        assert verdicts({quantity: low})[quantity] == "within"
        assert verdicts({quantity: low - step})[quantity] == "under"


@pytest.mark.parametrize(
    ("mass_lb", "day", "side", "expected"),
    [
        # From 1 Aug 2018: 3 oz; before that 1 oz at the sides; both over 10 lb.
        (15, date(2018, 7, 31), 1.0, "within"),
        (15, date(2018, 7, 31), 1.1, "over"),
        (15, date(2018, 8, 1), 2.9, "within"),
        (15, date(2018, 8, 1), 3.1, "over"),
        (15, date(2018, 8, 1), -3.1, "over"),  # the other side's weight is side weight too
        (10.1, TODAY, 2.9, "within"),
        # Smaller limits are remembered and not shown: unknown, whatever the number.
        (10, TODAY, 2.9, "unknown"),
        (8, TODAY, 0.1, "unknown"),
    ],
)
def test_static_weights_go_by_the_balls_weight_and_the_day(mass_lb, day, side, expected):
    assert verdicts({"side weight": side}, mass_lb=mass_lb, on=day)["side weight"] == expected


def test_before_2018_a_grip_without_the_thumb_had_its_own_top_limit():
    assert verdicts({"top weight": 3.0}, on=date(2018, 1, 1), thumb=False)["top weight"] == "within"


def test_old_limits_of_rg_and_differential_are_kept():
    assert verdicts({"rg": 2.44}, on=date(2010, 6, 30))["rg"] == "within"
    assert verdicts({"rg": 2.44}, on=date(2010, 7, 1))["rg"] == "under"
    assert verdicts({"differential": 0.08}, on=date(2005, 1, 31))["differential"] == "within"
    assert verdicts({"differential": 0.08}, on=date(2005, 2, 1))["differential"] == "over"


def test_where_no_published_value_is_at_hand_the_answer_is_unknown():
    light = {"rg": 2.0, "differential": 0.2}
    assert verdicts(light, mass_lb=12) == {"rg": "unknown", "differential": "unknown"}
    assert verdicts({"intermediate": 0.5}) == {"intermediate": "unknown"}
    [finding] = check({"restitution": 0.9}, mass_lb=15, on=TODAY)
    assert finding.verdict == "unknown"  # only remembered
    assert "no published limit at hand" in finding.words


def test_every_row_says_where_it_comes_from():
    assert len({rule.key for rule in rules()}) == len(rules())
    for rule in rules():
        assert rule.source
        if rule.strength in CHECKED:
            assert (rule.low, rule.high) != (None, None), rule.key
        if rule.strength == "not found":
            assert (rule.low, rule.high) == (None, None), rule.key


def test_days_of_one_limit_do_not_overlap():
    for one in rules():
        for other in rules():
            if one.key < other.key and one.quantity == other.quantity:
                apart = (
                    (one.until and other.since and one.until < other.since)
                    or (other.until and one.since and other.until < one.since)
                    or (one.from_lb is not None) != (other.from_lb is not None)
                )
                assert apart, f"{one.key} and {other.key}"


def test_a_quantity_that_the_file_does_not_have_is_refused():
    with pytest.raises(KeyError, match="beauty"):
        check({"beauty": 1.0}, mass_lb=15, on=TODAY)
