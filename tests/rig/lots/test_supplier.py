"""The history of a supplier: switching against a second statement of the rule, shares, faults, figures that move."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import count

import pytest
from statsmodels.stats.proportion import proportion_confint

from rig.events import Event, LotClosed, LotOpened, LotReopened, Stamped
from rig.lots.history import History, history_of, pooled_words
from rig.lots.supplier import drifts, faults_ranked, lot_rows
from tests.rig.lots.lots import opened, plan_with


def stamped(events: Sequence[Event]) -> Iterator[Stamped]:
    for number, event in enumerate(events, start=1):
        yield Stamped(number, 0, f"2026-01-05T07:00:{number % 60:02}.000Z", "", "", event)


def lot(number: str, *, resubmits: str = "", mended: str = "") -> LotOpened:
    base = opened(plan_with({"units": 3}), 9).opened
    return LotOpened(**base.body() | {"lot": number, "resubmits": resubmits, "mended": mended})


def closed(
    number: str,
    decision: str,
    *,
    defective: int = 0,
    found: dict[str, int] | None = None,
    current_a: float = 0.03,
    early: bool = False,
) -> LotClosed:
    spread = 0.0005
    return LotClosed(
        lot=number, decision=decision, inspection="normal", quantity=9, tested=3, defective=defective,
        by_class={}, found=found or {}, measured={"supply current, A": [20, current_a, spread]},
        early=early, switches=True, words="", person="",
    )  # fmt: skip


def after(decisions: Sequence[str]) -> History:
    events: list[Event] = []
    for number, decision in enumerate(decisions):
        mended = "mended" if history_of(stamped(events)).standing.stopped else ""
        events += [lot(f"L-{number}", mended=mended), closed(f"L-{number}", decision)]
    return history_of(stamped(events))


def by_the_book(decisions: Sequence[str]) -> tuple[str, bool]:
    """The rule stated once more, as a walk over all lots: severity and whether inspection is stopped."""
    severity, stopped, window, streak, lost = "normal", False, [], 0, 0
    for decision in decisions:
        if stopped:  # what was opened after it was mended goes on tightened, from nothing
            severity, stopped, window, streak, lost = "tightened", False, [], 0, 0
        rejected = decision == "rejected"
        if severity == "normal":
            window = [*window, rejected][-5:]
            if sum(window) >= 2:
                severity, window, streak, lost = "tightened", [], 0, 0
            continue
        streak, lost = (0, lost + 1) if rejected else (streak + 1, lost)
        if streak >= 5:
            severity, window = "normal", []
        stopped = severity == "tightened" and lost >= 5
    return severity, stopped


def test_the_next_inspection_follows_the_rule_whatever_came_before() -> None:
    draw = random.Random(8)
    for _ in range(60):
        share = draw.choice((0.1, 0.3, 0.6))
        decisions = ["rejected" if draw.random() < share else "accepted" for _ in range(draw.randrange(14))]
        standing = after(decisions).standing
        assert (str(standing.severity), standing.stopped) == by_the_book(decisions), decisions


def test_a_lot_that_was_reopened_counts_by_its_last_decision_at_its_own_place() -> None:
    events: list[Event] = [
        lot("L-1"), closed("L-1", "rejected"), lot("L-2"), closed("L-2", "rejected"),
        LotReopened("L-1", "Maren", "plug was loose"),
    ]  # fmt: skip
    assert str(history_of(stamped(events)).standing.severity) == "normal"
    again = [*events, closed("L-1", "accepted")]
    history = history_of(stamped(again))
    assert [one.closed.decision for one in history.closed if one.closed] == ["accepted", "rejected"]
    assert str(history.standing.severity) == "normal"
    assert (
        str(history_of(stamped([*again, lot("L-3"), closed("L-3", "rejected")])).standing.severity)
        == "tightened"
    )


def test_a_lot_that_comes_again_counts_for_shares_and_not_for_switching() -> None:
    events = [
        lot("L-1"), closed("L-1", "rejected", defective=1),
        lot("L-2", resubmits="L-1"), closed("L-2", "rejected", defective=2),
    ]  # fmt: skip
    history = history_of(stamped(events))
    assert (str(history.standing.severity), history.defective, history.tested) == ("normal", 3, 6)


def test_faults_are_ranked_over_all_lots() -> None:
    numbers = count(1)
    events: list[Event] = []
    for found in ({"LED": 1}, {"LED": 2, "supply current": 1}, {"trial setting": 2}):
        number = f"L-{next(numbers)}"
        events += [lot(number), closed(number, "rejected", defective=2, found=found)]
    history = history_of(stamped(events))
    assert faults_ranked(history) == (("LED", 3, 2), ("trial setting", 2, 1), ("supply current", 1, 1))
    assert lot_rows(history)[0].bounds.upper == pytest.approx(0.9915, abs=1e-3)  # 2 of 3, Clopper and Pearson


def test_a_lot_that_ended_early_is_not_made_to_look_worse_than_it_was() -> None:
    events = [lot("L-1"), closed("L-1", "rejected", defective=2, early=True)]
    history = history_of(stamped(events))
    bounds = lot_rows(history)[0].bounds
    # The third unit was the second bad one: as far down as 2 of 3, no further up than 1 of 2 (Clopper and Pearson).
    assert (bounds.lower, bounds.upper) == pytest.approx(
        (proportion_confint(2, 3, method="beta")[0], proportion_confint(1, 2, method="beta")[1])
    )
    assert pooled_words(history).startswith("1 of the lots ended early")


@pytest.mark.parametrize(("last_a", "moved"), [(0.0301, False), (0.036, True)])
def test_a_figure_that_moves_from_lot_to_lot_is_noticed(last_a: float, moved: bool) -> None:
    events: list[Event] = []
    for number, current_a in enumerate((0.0300, 0.0302, 0.0299, 0.0301, last_a)):
        events += [lot(f"L-{number}"), closed(f"L-{number}", "accepted", current_a=current_a)]
    (drift,) = drifts(history_of(stamped(events)))
    assert (drift.figure, drift.moved) == ("supply current, A", moved)
    assert drift.in_words(2) == (
        "supply current, mA",
        f"L-3 30.1, L-4 {1000 * last_a:.4g}{'; the last one has moved' if moved else ''}",
    )
