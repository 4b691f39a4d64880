"""The draw: every place once, the same from the same seed, no place favoured, more units begin as fewer do."""

from __future__ import annotations

import hashlib

from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chisquare

from rig.lots.draw import drawn, place_of, unit_serial

SEEDS = st.integers(0, 2**63 - 1)


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 400), SEEDS)
def test_every_place_is_drawn_once(quantity: int, seed: int) -> None:
    assert sorted(drawn(quantity, seed)) == list(range(1, quantity + 1))


def test_anybody_can_work_it_out() -> None:
    """As the report says: places in the order of the SHA-256 of seed/place."""
    by_hand = sorted(range(1, 121), key=lambda place: hashlib.sha256(b"875517131/%d" % place).hexdigest())
    assert list(drawn(120, 875517131)) == by_hand


def test_no_place_comes_more_often_than_another() -> None:
    counts = [0] * 20
    for seed in range(4000):
        for place in drawn(20, seed)[:5]:
            counts[place - 1] += 1
    assert chisquare(counts).pvalue > 0.001


@settings(max_examples=50, deadline=None)
@given(st.integers(2, 300), SEEDS)
def test_units_that_turn_out_to_be_missing_leave_the_rest_in_its_order(quantity: int, seed: int) -> None:
    fewer = quantity - 1
    assert drawn(fewer, seed) == tuple(place for place in drawn(quantity, seed) if place <= fewer)


@given(st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,29}", fullmatch=True), st.integers(1, 100_000))
def test_a_place_comes_back_from_the_serial(lot: str, place: int) -> None:
    assert place_of(unit_serial(lot, place)) == place
