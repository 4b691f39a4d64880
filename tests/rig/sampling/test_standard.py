"""Plans of ISO 2859-1: looked up as published, built anew from the standard's own pattern, valid everywhere."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from rig.sampling.curve import share_at
from rig.sampling.plan import NoSuchPlan, SinglePlan
from rig.sampling.standard import Level, Severity, code_letter, standard_plan, tables

AQLS = (0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10)
LETTERS = "ABCDEFGHJKLMNP"
SAMPLES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
# Along a row of the master tables, from the first acceptance number on; + and - are arrows down and up.
PATTERNS = {
    Severity.NORMAL: ("0", "-", "+", "1", "2", "3", "5", "7", "10", "14", "21"),
    Severity.TIGHTENED: ("0", "+", "+", "1", "2", "3", "5", "8", "12", "18"),
}
# The column in which the first row has its first acceptance number.
FIRST = {Severity.NORMAL: 9, Severity.TIGHTENED: 10}
# The one cell that departs from the pattern in both transcriptions: an arrow stands where it would have 2/0.
ARROW_INSTEAD = (Severity.TIGHTENED, 0, 10)


def from_the_pattern(severity: Severity, row: int, column: int) -> SinglePlan:
    """The plan by the rule that made the tables: a step down has the same numbers one AQL to the left (from memory)."""
    pattern = PATTERNS[severity]
    if (severity, row, column) == ARROW_INSTEAD:
        row += 1
    while True:
        along = column - (FIRST[severity] - row)
        sign = "+" if along < 0 else "-" if along >= len(pattern) else pattern[along]
        if sign not in "+-":
            return SinglePlan(SAMPLES[row], int(sign))
        # Above the first row there is nothing: its arrow points down.
        row += 1 if sign == "+" or row == 0 else -1


@pytest.mark.parametrize("severity", Severity)
def test_every_cell_is_the_one_that_the_pattern_of_the_standard_gives(severity: Severity) -> None:
    assert "".join(tables().of(severity)) == LETTERS
    found = {
        (letter, aql): f"{plan.sample_size}/{plan.acceptance_number}"
        for row, letter in enumerate(LETTERS)
        for column, aql in enumerate(AQLS)
        for plan in [from_the_pattern(severity, row, column)]
    }
    kept = {
        (letter, aql): cell
        for letter, cells in tables().of(severity).items()
        for aql, cell in zip(tables().aql_percent, cells, strict=True)
    }
    assert {at: (kept[at], cell) for at, cell in found.items() if kept[at] != cell} == {}


# As published: a worked look-up (lot 3201 to 10000, level II, AQL 1.5), and cells quoted in its tightened table.
@pytest.mark.parametrize(
    ("lot_size", "aql", "severity", "letter", "plan"),
    [
        (5000, 1.5, Severity.NORMAL, "L", SinglePlan(200, 7)),
        (5000, 1.5, Severity.TIGHTENED, "L", SinglePlan(200, 5)),
        (1200, 0.65, Severity.TIGHTENED, "J", SinglePlan(125, 1)),
        (1200, 4.0, Severity.TIGHTENED, "J", SinglePlan(80, 5)),
        (280, 2.5, Severity.TIGHTENED, "G", SinglePlan(32, 1)),
        (90, 6.5, Severity.TIGHTENED, "E", SinglePlan(13, 1)),
        # Not 80/1 and 80/0, as a table without arrows would have it.
        (1200, 0.25, Severity.NORMAL, "J", SinglePlan(50, 0)),
        (1200, 0.40, Severity.NORMAL, "J", SinglePlan(125, 1)),
    ],
)
def test_look_ups_are_the_published_ones(
    lot_size: int, aql: float, severity: Severity, letter: str, plan: SinglePlan
) -> None:
    found = standard_plan(lot_size, aql, severity=severity)
    assert (found.letter, found.table, found.plan) == (letter, plan, plan)


def test_an_arrow_to_the_plan_of_another_letter_is_told() -> None:
    assert standard_plan(1200, 1.0).letter_words == "J"
    assert standard_plan(1200, 0.25).letter_words == "J, its arrow leads to H"
    assert standard_plan(120, 0.25).letter_words == "F, its arrow leads to H"


# Chance of acceptance at the AQL itself, computed with an independent library.
@pytest.mark.parametrize(
    ("plan", "aql_percent", "chance"),
    [
        (SinglePlan(80, 2), 1.0, 0.9534),
        (SinglePlan(125, 3), 1.0, 0.9626),
        (SinglePlan(50, 1), 1.0, 0.9106),
        (SinglePlan(32, 1), 1.5, 0.9170),
        (SinglePlan(20, 1), 2.5, 0.9118),
        (SinglePlan(80, 5), 2.5, 0.9848),
    ],
)
def test_a_lot_at_the_aql_is_mostly_accepted(plan: SinglePlan, aql_percent: float, chance: float) -> None:
    assert plan.accepts_with(aql_percent / 100) == pytest.approx(chance, abs=5e-5)


@given(st.integers(2, 100_000), st.sampled_from(Level), st.sampled_from(AQLS), st.sampled_from(Severity))
def test_every_lot_level_and_aql_has_a_valid_plan_with_its_risk(
    lot_size: int, level: Level, aql: float, severity: Severity
) -> None:
    found = standard_plan(lot_size, aql, level=level, severity=severity)
    plan = found.plan
    assert 1 <= plan.sample_size == min(found.table.sample_size, lot_size)
    assert 0 <= plan.acceptance_number < plan.sample_size
    at_aql = plan.accepts_with(aql / 100)
    assert at_aql == pytest.approx(
        float(binom.cdf(plan.acceptance_number, plan.sample_size, aql / 100)), abs=1e-12
    )
    # The standard protects the producer at the AQL; tightened inspection less so.
    assert at_aql > (0.85 if severity is Severity.NORMAL else 0.65)
    limiting = share_at(plan, 0.10)
    assert plan.accepts_with(limiting) == pytest.approx(0.10, abs=1e-9)
    assert limiting > aql / 100


@pytest.mark.slow
def test_there_is_no_exception_among_all_lots_levels_and_aqls() -> None:
    """Ten seconds; from a lot of 900 on no sample is larger than the lot, and only the letter counts."""
    known = set()
    for lot_size, level in product(range(2, 100_001), Level):
        place = (code_letter(lot_size, level), min(lot_size, 900))
        if place in known:
            continue
        known.add(place)
        for aql, severity in product(AQLS, Severity):
            found = standard_plan(lot_size, aql, level=level, severity=severity)
            assert 0 <= found.plan.acceptance_number < found.plan.sample_size <= lot_size
            assert found.plan.accepts_with(aql / 100) > (0.85 if severity is Severity.NORMAL else 0.65)


@given(st.integers(2, 100_000), st.sampled_from(Level), st.sampled_from(AQLS))
def test_tightened_inspection_never_accepts_more(lot_size: int, level: Level, aql: float) -> None:
    normal = standard_plan(lot_size, aql, level=level).plan
    tightened = standard_plan(lot_size, aql, level=level, severity=Severity.TIGHTENED).plan
    for share in (aql / 200, aql / 100, aql / 50, aql / 25):
        assert tightened.accepts_with(share) <= normal.accepts_with(share) + 1e-12


def test_where_the_sample_reaches_the_lot_every_unit_is_tested() -> None:
    found = standard_plan(40, 0.10)
    assert (found.table.sample_size, found.plan.sample_size) == (125, 40)
    assert found.plan.accepts_lot(bad=0, lot_size=40) == 1.0
    assert found.plan.accepts_lot(bad=1, lot_size=40) == 0.0


# Table 1 once more, from memory, lot size by lot size as the standard prints it: S-1 S-2 S-3 S-4 I II III.
TABLE_1 = {
    8: "AAAAAAB", 15: "AAAAABC", 25: "AABBBCD", 50: "ABBCCDE", 90: "BBCCCEF",
    150: "BBCDDFG", 280: "BCDEEGH", 500: "BCDEFHJ", 1200: "CCEFGJK", 3200: "CDEGHKL",
    10_000: "CDFGJLM", 35_000: "CDFHKMN", 150_000: "DEGJLNP", 500_000: "DEGJMPQ", 500_001: "DEHKNQR",
}  # fmt: skip


@pytest.mark.parametrize(("lot_size", "letters"), TABLE_1.items())
def test_every_level_has_the_letters_of_the_standard(lot_size: int, letters: str) -> None:
    levels = (Level.S1, Level.S2, Level.S3, Level.S4, Level.I, Level.II, Level.III)
    assert "".join(code_letter(lot_size, level) for level in levels) == letters


# The ends of each row of table 1, general level II.
@pytest.mark.parametrize(
    ("last", "letter"),
    list(
        zip(
            (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000),
            LETTERS,
            strict=True,
        )
    ),
)
def test_a_letter_ends_where_the_standard_ends_it(last: int, letter: str) -> None:
    assert code_letter(last) == letter
    assert code_letter(last + 1) > letter


def test_what_has_no_plan_is_refused_with_what_is_allowed() -> None:
    with pytest.raises(NoSuchPlan, match=r"a lot of 1 has no plan .* 2 or more"):
        standard_plan(1, 1.0)
    with pytest.raises(
        NoSuchPlan, match=r"AQL 1\.2 % is not in the table; allowed: 0\.1, 0\.15, .* 6\.5, 10$"
    ):
        standard_plan(100, 1.2)
    with pytest.raises(NoSuchPlan, match=r"letter R, .* A to P"):
        standard_plan(500_001, 1.0, level=Level.III)
    with pytest.raises(NoSuchPlan, match="letter Q"):
        standard_plan(150_001, 1.0, level=Level.III)
