"""LED patterns from edges: right with jitter, lamp flicker and lost edges, and never a wrong rate on the way."""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hal.rhythm import BLINK_PAUSE_S, SHORTEST_S, Change, LedPattern, LightFilter, classify
from tests.looking import examples
from wiring.terms import LedKind

Edge = tuple[float, bool]
Span = tuple[float, float]
"""Light from, to."""


@dataclass(frozen=True)
class Light:
    """What a LED really does, as spans of light within `until_s`."""

    spans: tuple[Span, ...]
    until_s: float

    def at_pickup(self, *, mains_hz: float = 0.0, dropped: float = 0.0, seed: int = 0) -> list[Edge]:
        """The edges that a pick-up gives: flicker while it is dark, and a share of the edges lost."""
        draw = random.Random(seed)
        edges = sorted(self._edges(mains_hz, draw))
        return [edge for edge in edges if draw.random() >= dropped]

    def _edges(self, mains_hz: float, draw: random.Random) -> Iterator[Edge]:
        dark_from = 0.0
        for on, off in self.spans:
            yield from _flicker(dark_from, on, mains_hz, draw)
            if on > 0.0:
                yield on, True
            if off < self.until_s:
                yield off, False
            dark_from = off
        yield from _flicker(dark_from, self.until_s, mains_hz, draw)


def _flicker(start: float, end: float, mains_hz: float, draw: random.Random) -> Iterator[Edge]:
    at = start + draw.uniform(0.0005, 0.008)
    while mains_hz and at + 0.004 < end:
        width = draw.uniform(0.002, 0.004)
        yield at, True
        yield at + width, False
        at += 1 / mains_hz


def flashing(
    rate_hz: float,
    *,
    until_s: float,
    duty: float = 0.5,
    start_s: float = 0.0,
    jitter: float = 0.0,
    seed: int = 0,
) -> Light:
    draw = random.Random(seed)
    period_s = 1 / rate_hz
    spans, at = [], start_s
    while at < until_s:
        wobble = [draw.uniform(-jitter, jitter) * period_s for _ in range(2)]
        spans.append((max(0.0, at + wobble[0]), at + duty * period_s + wobble[1]))
        at += period_s
    return Light(tuple(spans), until_s)


def blinks(
    count: int, *, pause_s: float, on_s: float = 0.2, off_s: float = 0.2, start_s: float = 1.0
) -> Light:
    spans = tuple((start_s + n * (on_s + off_s), start_s + n * (on_s + off_s) + on_s) for n in range(count))
    return Light(spans, spans[-1][1] + pause_s)


def patterns(light: Light, edges: list[Edge], *, step_s: float = 0.01) -> Iterator[tuple[float, LedPattern]]:
    """What is told at every moment; one fed edge by edge, as a pick-up does."""
    lit_first = bool(light.spans) and light.spans[0][0] <= 0.0
    seen = LightFilter(lit_first, 0.0)
    waiting = list(edges)
    for tick in range(1, round(light.until_s / step_s) + 1):
        now_s = round(tick * step_s, 6)
        while waiting and waiting[0][0] <= now_s:
            at_s, level = waiting.pop(0)
            seen.edge(level, at_s)
        yield now_s, classify(seen.changes(-inf, now_s), now_s, noisy=seen.noisy(now_s)).pattern


def told(light: Light, edges: list[Edge]) -> LedPattern:
    *_, (_, last) = patterns(light, edges)
    return last


MAINS = st.sampled_from([0.0, 100.0, 120.0])


# -- flashing -----------------------------------------------------------------------------------------------------


@settings(max_examples=examples(60))
@given(
    rate_hz=st.floats(0.5, 10.0),
    duty=st.floats(0.3, 0.7),
    jitter=st.floats(0.0, 0.03),
    mains_hz=MAINS,
    dropped=st.sampled_from([0.0, 0.0, 0.05]),
    seed=st.integers(0, 10_000),
)
def test_any_flashing_is_told_with_its_rate_and_never_with_another(
    rate_hz: float, duty: float, jitter: float, mains_hz: float, dropped: float, seed: int
) -> None:
    # Within a bound that a type file can hold: the answers of units are flashing above half a hertz.
    light = flashing(rate_hz, until_s=24 / rate_hz, duty=duty, jitter=jitter, start_s=0.3, seed=seed)
    edges = light.at_pickup(mains_hz=mains_hz, dropped=dropped, seed=seed)
    rates = [pattern.rate_hz for _, pattern in patterns(light, edges, step_s=0.08 / rate_hz)]
    assert all(rate == pytest.approx(rate_hz, rel=0.12) for rate in rates if rate is not None)
    told_share = sum(rate is not None for rate in rates) / len(rates)
    # How often a rate is lost with its edges is chance: the share of many runs is asked for below.
    assert told_share > (0.0 if dropped else 0.6)


@pytest.mark.parametrize("rate_hz", [2.0, 5.0, 8.4])
def test_lost_edges_cost_a_part_of_the_time_only(rate_hz: float) -> None:
    shares = []
    for seed in range(60):
        light = flashing(rate_hz, until_s=24 / rate_hz, duty=0.3, start_s=0.3, seed=seed)
        edges = light.at_pickup(mains_hz=120.0, dropped=0.05, seed=seed)
        rates = [pattern.rate_hz for _, pattern in patterns(light, edges, step_s=0.08 / rate_hz)]
        shares.append(sum(rate is not None for rate in rates) / len(rates))
    assert sum(shares) / len(shares) > 0.45, shares


@pytest.mark.parametrize("mains_hz", [0.0, 100.0, 120.0])
@pytest.mark.parametrize("lit_before", [True, False])
@pytest.mark.parametrize(("rate_hz", "within_s"), [(2.0, 1.2), (5.0, 0.6), (8.0, 0.5)])
def test_flashing_is_told_in_time(rate_hz: float, within_s: float, lit_before: bool, mains_hz: float) -> None:
    flashes = flashing(rate_hz, until_s=6.0, start_s=2.0)
    lit = ((0.0, flashes.spans[0][1]), *flashes.spans[1:])
    light = Light(lit, 6.0) if lit_before else flashes
    first = next(
        (at, pattern)
        for at, pattern in patterns(light, light.at_pickup(mains_hz=mains_hz))
        if pattern.rate_hz
    )
    assert first[1].rate_hz == pytest.approx(rate_hz, rel=0.05)
    assert first[0] - 2.0 <= within_s


@pytest.mark.parametrize(
    ("first_hz", "then_hz"), [(2.0, 5.0), (5.0, 8.0), (2.0, 8.0), (8.0, 2.0), (5.0, 2.0)]
)
@pytest.mark.parametrize("shift", [0.0, 0.13, 0.25, 0.41, 0.77])
def test_a_change_of_rate_shows_no_third_rate(first_hz: float, then_hz: float, shift: float) -> None:
    change_s = 3.0 + shift / first_hz
    before = tuple((on, min(off, change_s)) for on, off in flashing(first_hz, until_s=change_s).spans)
    after = flashing(then_hz, until_s=6.0, start_s=change_s + 0.001).spans
    light = Light(before + after, 6.0)
    rates = [
        round(pattern.rate_hz, 1) for _, pattern in patterns(light, light.at_pickup()) if pattern.rate_hz
    ]
    near = [min((first_hz, then_hz), key=lambda hz: abs(hz - rate)) for rate in rates]
    assert all(rate == pytest.approx(hz, rel=0.12) for rate, hz in zip(rates, near, strict=True))
    assert near == sorted(near, key=(first_hz, then_hz).index)
    assert near[-1] == then_hz


def test_flashing_that_ends_is_soon_no_longer_told() -> None:
    flashes = flashing(2.0, until_s=3.0).spans
    light = Light((*flashes, (3.0, 6.0)), 6.0)
    last_s = max(at for at, pattern in patterns(light, light.at_pickup()) if pattern.rate_hz)
    assert last_s < 3.5
    assert told(light, light.at_pickup()) == LedPattern(LedKind.STEADY)


# -- blinks -------------------------------------------------------------------------------------------------------


@settings(max_examples=examples(40))
@given(
    count=st.integers(1, 8),
    on_s=st.floats(0.12, 0.28),
    off_s=st.floats(0.12, 0.28),
    mains_hz=MAINS,
    lit_before=st.booleans(),
    seed=st.integers(0, 1000),
)
def test_blinks_are_counted(
    count: int, on_s: float, off_s: float, mains_hz: float, lit_before: bool, seed: int
) -> None:
    light = blinks(count, pause_s=BLINK_PAUSE_S + 0.05, on_s=on_s, off_s=off_s)
    if lit_before:
        light = Light(((0.0, 0.7), *light.spans), light.until_s)
    edges = light.at_pickup(mains_hz=mains_hz, seed=seed)
    pattern = told(light, edges)
    assert (pattern.kind, pattern.count) == (LedKind.BLINKS, count)
    assert pattern.noisy is (mains_hz > 0)


@pytest.mark.parametrize("count", range(1, 9))
def test_no_other_count_is_told_on_the_way(count: int) -> None:
    light = blinks(count, pause_s=1.5)
    counts = {pattern.count for _, pattern in patterns(light, light.at_pickup())}
    assert counts == {None, count}


def test_blinks_before_a_led_that_stays_lit_are_counted() -> None:
    light = blinks(3, pause_s=2.0)
    light = Light((*light.spans, (light.spans[-1][1] + 0.3, light.until_s)), light.until_s)
    at_end = dict(patterns(light, light.at_pickup()))
    told_at = round(light.spans[-1][0] + BLINK_PAUSE_S + 0.02, 2)
    assert at_end[told_at] == LedPattern(LedKind.BLINKS, count=3)


@settings(max_examples=examples(40))
@given(count=st.integers(1, 8), seed=st.integers(0, 10_000), mains_hz=MAINS)
def test_a_lost_edge_may_hide_blinks_but_a_lone_one_never_adds_any(
    count: int, seed: int, mains_hz: float
) -> None:
    light = blinks(count, pause_s=0.7)
    edges = light.at_pickup(mains_hz=mains_hz, seed=seed)
    del edges[seed % len(edges)]
    pattern = told(light, edges)
    if pattern.kind is LedKind.BLINKS:
        assert pattern.count is not None
        assert pattern.count <= count


# -- steady, dark, unclear ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("mains_hz", [100.0, 120.0])
def test_lamp_flicker_alone_is_dark_and_noisy(mains_hz: float) -> None:
    light = Light((), 3.0)
    for at, pattern in patterns(light, light.at_pickup(mains_hz=mains_hz)):
        if at > 0.7:
            assert pattern == LedPattern(LedKind.DARK, noisy=True)


@settings(max_examples=examples(30))
@given(mains_hz=st.sampled_from([100.0, 120.0]), seed=st.integers(0, 10_000))
def test_lamp_flicker_with_lost_edges_is_never_flashing_or_blinks(mains_hz: float, seed: int) -> None:
    light = Light((), 6.0)
    edges = light.at_pickup(mains_hz=mains_hz, dropped=0.05, seed=seed)
    for _, pattern in patterns(light, edges):
        assert pattern.kind in (LedKind.DARK, LedKind.UNCLEAR)


def test_a_new_level_is_unclear_at_first() -> None:
    light = Light(((2.0, 6.0),), 6.0)
    kinds = dict(patterns(light, light.at_pickup()))
    assert kinds[1.5].kind is LedKind.DARK
    assert kinds[2.3].kind is LedKind.UNCLEAR
    assert kinds[2.7].kind is LedKind.STEADY
    assert not kinds[5.9].noisy


def test_a_glitch_in_steady_light_does_not_count() -> None:
    light = Light(((0.0, 2.0), (2.004, 2.6)), 2.6)
    assert told(light, light.at_pickup()) == LedPattern(LedKind.STEADY)


@settings(max_examples=examples(30))
@given(st.lists(st.floats(0.03, 0.4), min_size=20, max_size=60))
def test_aimless_flicker_of_a_led_is_seldom_taken_for_flashing(halves: list[float]) -> None:
    at, spans = 0.5, []
    for on_s, off_s in zip(halves[::2], halves[1::2], strict=False):
        spans.append((at, at + on_s))
        at += on_s + off_s
    light = Light(tuple(spans), at)
    for _, pattern in patterns(light, light.at_pickup(), step_s=0.02):
        if pattern.rate_hz is not None:
            # Whatever is told was there: at least two whole periods alike.
            assert _alike(spans, 1 / pattern.rate_hz)


def _alike(spans: list[Span], period_s: float) -> bool:
    edges = [edge for span in spans for edge in span]
    periods = [later - edge for edge, later in zip(edges, edges[2:], strict=False)]
    near = [abs(period - period_s) < 0.3 * period_s for period in periods]
    return any(one and other for one, other in pairwise(near))


# -- the filter ---------------------------------------------------------------------------------------------------


def test_the_filter_drops_what_is_too_short_to_be_light() -> None:
    seen = LightFilter(False, 0.0)
    assert not seen.edge(True, 1.0)
    assert not seen.edge(False, 1.0 + SHORTEST_S / 2)
    assert [change.lit for change in seen.changes(-inf, 2.0)] == [False]


def test_light_counts_once_it_lasts_even_without_another_edge() -> None:
    seen = LightFilter(False, 0.0)
    seen.edge(True, 1.0)
    assert seen.undecided_until_s == 1.0 + SHORTEST_S
    assert [change.lit for change in seen.changes(-inf, 1.0 + SHORTEST_S / 2)] == [False]
    assert [change.lit for change in seen.changes(-inf, 1.1)] == [False, True]
    assert seen.undecided_until_s == -inf


def test_a_lost_end_of_light_shows_with_the_next_flicker() -> None:
    seen = LightFilter(False, 0.0)
    for at, level in [(1.0, True), (1.257, True), (1.260, False), (1.267, True), (1.270, False)]:
        seen.edge(level, at)
    changes = seen.changes(-inf, 1.5)
    assert [(change.at_s, change.lit, change.exact) for change in changes[1:]] == [
        (1.0, True, True),
        (1.257, False, False),
    ]


def test_two_rises_far_apart_are_two_flashes() -> None:
    seen = LightFilter(False, 0.0)
    for at, level in [(1.0, True), (1.5, True), (1.75, False)]:
        seen.edge(level, at)
    assert [change.lit for change in seen.changes(-inf, 2.0)] == [False, True, True, False]


def test_the_state_at_the_start_is_no_edge() -> None:
    changes = [Change(0.03, True, exact=False), Change(0.25, False), Change(0.5, True), Change(0.75, False)]
    assert classify(changes, 0.8).pattern.kind is LedKind.UNCLEAR
    assert classify([*changes, Change(1.0, True)], 1.05).pattern == LedPattern(LedKind.FLASHING, rate_hz=2.0)


def test_only_what_came_after_the_question_is_looked_at() -> None:
    light = flashing(5.0, until_s=3.0)
    seen = LightFilter(True, 0.0)
    for at, level in light.at_pickup():
        seen.edge(level, at)
    changes = seen.changes(2.95, 3.0)
    assert classify(changes, 3.0).pattern.kind is LedKind.UNCLEAR
    assert changes[0].at_s == 2.95
