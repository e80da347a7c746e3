"""The table of sessions is the committed one, and the rule alone draws it."""

from collections import Counter

from . import scenarios


def test_the_table_has_its_hash_and_is_what_the_rule_draws():
    rows = scenarios.committed()
    assert len(rows) == scenarios.ROWS >= 500
    assert scenarios.TABLE.read_bytes() == scenarios.written()


def test_every_cause_comes_round_in_a_fixed_order():
    rows = scenarios.committed()
    assert [row.kind for row in rows[:14]] == list(scenarios.ROUND)
    assert len({row.seed for row in rows}) == len(rows)
    counted = Counter(row.kind for row in rows)
    assert counted["nothing"] >= 150
    assert all(counted[kind] >= 70 for kind in scenarios.KINDS)


def test_left_handers_pairs_and_second_balls_are_among_them():
    rows = scenarios.committed()
    for flag in (
        [row.hand == "left" for row in rows],
        [row.pair for row in rows],
        [row.second_ball for row in rows],
        [row.sheet_known for row in rows],
    ):
        assert 0.1 < sum(flag) / len(flag) < 0.9
    assert {row.habit for row in rows} == set(scenarios.HABITS)


def test_the_results_belong_to_this_table():
    page = scenarios.TABLE.with_name("RESULTS.md").read_text()
    assert f"table of sessions {scenarios.hash_of_table()}" in page
    assert "Reading version" in page
