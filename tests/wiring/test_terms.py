"""Words of the trade as they stand in files and on screens."""

from __future__ import annotations

from wiring.terms import Rail


def test_the_other_rail_is_the_opposite_one_both_ways() -> None:
    assert Rail.PLUS.other is Rail.MINUS
    assert Rail.MINUS.other is Rail.PLUS


def test_rails_read_as_the_standard_names_them() -> None:
    assert f"{Rail.PLUS} {Rail.MINUS}" == "L+ L-"
