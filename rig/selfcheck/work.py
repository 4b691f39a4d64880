"""What every check has at hand: the open bench, the account, where things are, and what earlier runs measured."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from hal.bench import Bench
from hal.errors import Tripped
from hal.nest import Nest
from hal.operator import Request, RequestKind
from rig.chronicle import Chronicle
from rig.events import PartMeasured
from rig.selfcheck.checks import Check, Figure, Finding, Outcome, worn
from rig.selfcheck.places import Places
from wiring.lines import RelayLine
from wiring.nest import NestProfile
from wiring.saying import say, together

PATIENCE_S = 120.0
"""Whoever has not answered for so long has gone away."""

Earlier = Mapping[tuple[str, str], Sequence[float]]
"""Figures of earlier runs that passed, by part and name."""


@dataclass
class Work:
    """One self-check under way."""

    bench: Bench
    chronicle: Chronicle
    places: Places
    earlier: Earlier
    figures: list[tuple[str, Figure]] = field(default_factory=list)

    @property
    def now_s(self) -> float:
        """Loop time in seconds."""
        return asyncio.get_running_loop().time()

    def measured(self, check: Check, figure: Figure) -> Figure:
        """Note a figure."""
        self.figures.append((check.part, figure))
        self.chronicle.note(
            PartMeasured(check.part, figure.name, figure.value, figure.low, figure.high, figure.unit)
        )
        return figure

    async def ask(self, kind: RequestKind, text: str, *, timeout_s: float = PATIENCE_S) -> None:
        """Ask the person; raises Tripped at once when the bench has tripped, NoAnswer when they stay away."""
        causes = self.bench.interlock.causes
        if causes:
            raise Tripped(causes[0])
        await self.bench.operator.ask(Request(kind, text), timeout_s=timeout_s)

    def profile_of(self, check: Check) -> tuple[NestProfile, int]:
        """Profile and number of the nest that a check is about."""
        assert check.nest is not None, "this check is about a nest"
        return self.bench.profile.nest[check.nest - 1], check.nest

    def nest(self, check: Check) -> Nest:
        """The nest that a check is about."""
        return self.bench.nests[self.profile_of(check)[1] - 1]

    def judged(
        self, check: Check, line: RelayLine, times: Sequence[Figure], advice: str, words: str = ""
    ) -> Finding:
        """Hold the times of a relay against its profile, and against what they used to be."""
        name = self.places.relay(line)
        late = next((one for one in times if not one.within), None)
        if late is not None:
            return _out_of_profile(name, late, advice)
        slower = next(
            (one for one in times if worn(one.value, self.earlier.get((check.part, one.name), ()))), None
        )
        if slower is not None:
            return _worn(name, slower, advice)
        told = say(
            "{name}: {times}",
            name=name,
            times=together(
                ", ", (say("{figure} {took}", figure=one.name, took=_ms(one.value)) for one in times)
            ),
        )
        return Finding(Outcome.PASSED, together("; ", (part for part in (words, told) if part)))


def _out_of_profile(name: str, late: Figure, advice: str) -> Finding:
    return Finding(
        Outcome.FAILED,
        say(
            "{name} is out of its profile: {figure} {late}, allowed {high}",
            name=name,
            figure=late.name,
            late=_ms(late.value),
            high=_ms(late.high or 0.0),
        ),
        say(
            "Change {name}, or correct its times in the rig profile if its data sheet says so; {advice}",
            name=name,
            advice=advice,
        ),
    )


def _worn(name: str, slower: Figure, advice: str) -> Finding:
    return Finding(
        Outcome.WORN,
        say(
            "{name} is worn: {figure} {slower}, clearly slower than in earlier self-checks",
            name=name,
            figure=slower.name,
            slower=_ms(slower.value),
        ),
        say("Order a new {name} and change it soon; {advice}", name=name, advice=advice),
    )


def _ms(seconds: float) -> str:
    return say("{seconds:.1f} ms", seconds=seconds * 1000)
