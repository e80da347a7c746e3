"""Leaves: the written form, the split rule and the trade's names."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanes.reading import leaves
from lanes.reading.leaves import ALL_PINS, LeaveError, is_split, leave_name, parse_leave

some_pins = st.frozensets(st.integers(1, 10), min_size=1)


@given(pins=some_pins, seed=st.randoms())
def test_any_order_and_any_separator_comes_back_canonical(pins, seed):
    typed = list(pins)
    seed.shuffle(typed)
    canonical = leaves.format_leave(pins)
    for separator in ("-", ", ", " ", "–", "+"):
        assert parse_leave(separator.join(map(str, typed))) == canonical
    assert leaves.pins_standing(canonical) == pins
    assert parse_leave(canonical) == canonical


@pytest.mark.parametrize("text", ["11", "3-3", "3-6-1O", "abc", "-", "0-1", "XX", "3.6", "²"])
def test_what_is_no_leave_is_refused(text):
    with pytest.raises(LeaveError):
        parse_leave(text)


def test_marks_of_the_whole_rack():
    assert parse_leave(" x ") == "X"
    assert parse_leave("") == ""
    assert leaves.pins_standing("0", frozenset({3, 10})) == {3, 10}
    assert leaves.pins_standing("") is None
    assert parse_leave("1 2 3 4 5 6 7 8 9 10") == "0"


# Playing rules (from memory): head pin down, two or more pins standing, one down between them,
# "for example 7-9 or 3-10", or immediately ahead of them, "for example 5-6".
SPLITS = "7-9 3-10 5-6 2-7 4-5 7-10 5-7 5-10 4-6-7-10 4-9 6-8 2-10 5-8-10 2-4-10 8-9 4-5-7 6-7 8-10"
NOT_SPLITS = "10 2-4-5 2-4-5-8 3-6-10 6-10 2-8 3-9 1-2-10 1-3-6-7 4-7-8 3-5-6-9 2-4-7 6-9-10 5-9"


@pytest.mark.parametrize("leave", SPLITS.split())
def test_splits_by_the_published_rule(leave):
    assert is_split(leave)


@pytest.mark.parametrize("leave", NOT_SPLITS.split())
def test_leaves_that_the_rule_does_not_call_splits(leave):
    assert not is_split(leave)


@given(pins=some_pins)
def test_a_split_is_one_from_either_side(pins):
    """The rule knows no hand: the mirror image of a split is a split."""
    mirror = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}
    other = frozenset(mirror[p] for p in pins)
    assert is_split(leaves.format_leave(pins)) == is_split(leaves.format_leave(other))
    if 1 in pins or len(pins) == 1 or pins == ALL_PINS:
        assert not is_split(leaves.format_leave(pins))


# Names: common practice, no source.
@pytest.mark.parametrize(
    ("leave", "hand", "neighbour", "name"),
    [
        ("10", "right", "flat", "flat 10"),
        ("10", "right", "around", "ringing 10 (wrap)"),
        ("7", "left", "around", "ringing 7 (wrap)"),
        ("10", "right", "", "10 pin"),
        ("7", "left", "flat", "flat 7"),
        ("7", "left", "into", "7 pin, the 4 into it"),
        ("9", "right", "flat", "9 pin"),
        ("2-4-5-8", "right", "", "2-4-5-8 bucket"),
        ("3-10", "right", "", "3-10 baby split"),
        ("4-6-7-10", "right", "", "4-6-7-10 big four"),
        ("1-2-10", "right", "", "1-2-10 washout"),
        ("1-3-7", "left", "", "1-3-7 washout"),
        ("5-7", "right", "", "5-7 split"),
        ("7-10", "right", "", "7-10 bed posts"),
        ("5-7-10", "left", "", "5-7-10 sour apple"),
        ("4-6-7-9-10", "right", "", "4-6-7-9-10 Greek church"),
        ("1-2-4-7", "right", "", "1-2-4-7 picket fence"),
        ("1-2-4-10", "right", "", "1-2-4-10 washout"),
        ("2-8", "right", "", "2-8 double wood"),
        ("3-6-10", "right", "", "3-6-10"),
        ("X", "right", "", "strike"),
        ("", "right", "", ""),
    ],
)
def test_names_of_the_trade(leave, hand, neighbour, name):
    assert leave_name(leave, hand, neighbour) == name


def test_a_corner_is_told_only_when_the_pin_beside_it_fell():
    assert leaves.corner_state("10", "flat", "right") == "flat"
    assert leaves.corner_state("6-10", "flat", "right") is None
    assert leaves.corner_state("3-10", "around", "right") == "ringing"
    assert leaves.corner_state("7-10", "flat", "left") == "flat"
    assert leaves.corner_pin("7-10", "left") == 7
    assert leaves.corner_pin("7-10", "right") == 10


# Stone and solid: common practice, no source.
@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_flush_hit_leaves_a_stone_or_a_solid_corner(hand):
    assert leave_name("8", hand, flush=True) == "stone 8"
    assert leave_name("9", hand, flush=True) == "stone 9"
    assert leave_name("10", hand, flush=True) == "solid 10"
    assert leave_name("7", hand, flush=True) == "solid 7"
    assert leave_name("9", hand) == "9 pin"
    # What was seen of the pin beside the corner tells more than where the ball met the pocket.
    assert leave_name("10", hand, "flat", flush=True) == "flat 10"
    assert leave_name("5", hand, flush=True) == "5 pin"


def test_a_name_holds_for_the_mirror_image_under_the_other_hand():
    """Geometry: the rack is its own mirror image, so a left-hander has each of these too."""
    for pins, name in leaves.NAMES.items():
        other = frozenset(leaves.MIRRORED_PIN[pin] for pin in pins)
        assert leaves.NAMES[other] == name
        assert leave_name(leaves.format_leave(pins), "left").endswith(name)


@given(pins=some_pins)
def test_every_leave_has_a_name_of_the_same_kind_from_the_other_side(pins):
    """Splits and washouts mirror, and so does what single pins are called."""
    other = frozenset(leaves.MIRRORED_PIN[pin] for pin in pins)
    mine = leave_name(leaves.format_leave(pins), "right").partition(" ")[2]
    theirs = leave_name(leaves.format_leave(other), "left").partition(" ")[2]
    assert mine == theirs


def test_names_of_splits_are_splits_by_the_published_rule():
    """Playing rules (from memory): a split has its head pin down, so no washout or fence is one."""
    kinds = {leaves.NAMES[p]: is_split(leaves.format_leave(p)) for p in leaves.NAMES}
    splits = {name for name, split in kinds.items() if split}
    assert splits == {
        "baby split", "baby split with company", "bed posts", "sour apple", "Christmas tree",
        "big four", "big five", "Greek church",
    }  # fmt: skip
    assert not is_split("1-2-10")
    assert leaves.is_washout("1-2-10")
