"""How long a relay takes, from the edges that its contacts make on the inputs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from statistics import median

from hal.inputs import Input, RailPair
from rig.selfcheck.checks import STAMP_S, Figure
from wiring.lines import RelayLine

CYCLES = 5
"""So often each relay is switched: the median of five bears two that the computer was late for."""

HELD_S = 0.06
"""How long a relay is left on in each cycle."""

Edge = tuple[tuple[bool, ...], float]
"""The levels from this moment on, and the moment in loop time."""


class Times:
    """The times of one relay, cycle by cycle."""

    def __init__(self, line: RelayLine) -> None:
        self._line = line
        self._operate_s: list[float] = []
        self._release_s: list[float] = []
        self._bounce_s: list[float] = []

    def on(self, edges: list[Edge], wanted: tuple[bool, ...], since_s: float) -> None:
        """Take in what was seen after the coil was switched on."""
        made_s = [at_s for levels, at_s in edges if levels == wanted]
        if made_s:
            self._operate_s.append(made_s[0] - since_s)
            self._bounce_s.append(made_s[-1] - made_s[0])

    def off(self, edges: list[Edge], wanted: tuple[bool, ...], since_s: float) -> None:
        """Take in what was seen after the coil was switched off; `wanted` is what it leaves."""
        left_s = [at_s for levels, at_s in edges if levels != wanted]
        if left_s:
            self._release_s.append(left_s[0] - since_s)

    def figures(self) -> Iterator[Figure]:
        """The median of each, with the profile's limits."""
        line = self._line
        for name, seen_s, longest_s in (
            ("operate", self._operate_s, line.operate_s),
            ("release", self._release_s, line.release_s),
            ("bounce", self._bounce_s, line.bounce_s),
        ):
            if seen_s:
                yield Figure(name, median(seen_s), None, longest_s + STAMP_S)


@contextmanager
def edges_of_pair(pair: RailPair) -> Iterator[list[Edge]]:
    """Every edge on a pair of inputs while the block runs."""
    seen: list[Edge] = []

    def edge(at_plus: bool, at_minus: bool, at_s: float) -> None:
        seen.append(((at_plus, at_minus), at_s))

    pair.on_edge.append(edge)
    try:
        yield seen
    finally:
        pair.on_edge.remove(edge)


@contextmanager
def edges_of(source: Input) -> Iterator[list[Edge]]:
    """Every edge on an input while the block runs."""
    seen: list[Edge] = []

    def edge(active: bool, at_s: float) -> None:
        seen.append(((active,), at_s))

    source.on_edge.append(edge)
    try:
        yield seen
    finally:
        source.on_edge.remove(edge)
