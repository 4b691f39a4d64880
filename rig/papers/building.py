"""The record of a rig's building on paper: who built and checked it, and everything that was measured."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.papers.certificate import moment_words
from rig.papers.paper import Block, Cell, Column, Grid, Pairs, Paper, Part, Said, Signatures, Stated, Tone

_CAUTION = (
    "The rig is no safety function. It is for PELV only, current-limited and fused; its stop button works in hardware, "
    "without the program. What is changed in its wiring after this day is not covered by this record."
)
_SIMULATED = "SIMULATED RIG: nobody has wired or measured anything. This paper proves nothing."


@dataclass(frozen=True, slots=True)
class StepFacts:
    """One step as it was done; `measured` is empty where nothing was, `low` and `high` what had to come out."""

    utc: str
    step: str
    words: str
    measured: str
    unit: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class BuildingFacts:
    """A rig that was built and signed.

    Attributes:
        rig_sha256: of the profile that it was built after.
        profile_unchanged: whether the profile still is that one.

    """

    rig: str
    title: str
    simulated: bool
    signed_utc: str
    built_by: str
    checked_by: str
    self_check: str
    rig_sha256: str
    profile_unchanged: bool
    steps: tuple[StepFacts, ...]


def building_record(facts: BuildingFacts, made_by: str) -> Paper:
    """The paper; `made_by` names the program."""
    return Paper(
        kind="Commissioning record",
        name=facts.rig,
        warning=_SIMULATED if facts.simulated else "",
        parts=tuple(_parts(facts)),
        foot=f"Commissioning record: rig {facts.rig}, signed {moment_words(facts.signed_utc)}. {made_by}.",
    )


def _parts(facts: BuildingFacts) -> Iterator[Part]:
    yield Part("", tuple(_head(facts)))
    yield Part("Rig", (Pairs(tuple(_rig(facts))),))
    measured = tuple(one for one in facts.steps if one.measured)
    rows = tuple(_measured_row(one) for one in measured)
    columns = (
        Column("measured", 4.2),
        Column("value", 0.8, number=True),
        Column("unit", 0.6),
        Column("has to be", 1.3, number=True),
        Column("when", 1.6),
    )
    yield Part("Measurements", (Grid("", columns, rows),))
    done = tuple((Cell(one.words), Cell(moment_words(one.utc))) for one in facts.steps if not one.measured)
    said = (Column("wire or look", 6.0), Column("said to be so", 1.7))
    yield Part("Wires and looks", (Grid("", said, done),))
    yield Part("Cautions", (Said(_CAUTION),))
    yield Part("", (Signatures(("built by", "wiring checked by, a qualified person")),))


def _head(facts: BuildingFacts) -> Iterator[Block]:
    measured = sum(bool(one.measured) for one in facts.steps)
    sentence = (
        f"Built after its wiring papers, step by step: {len(facts.steps)} steps, {measured} of them measured and "
        "within their limits; then self-checked."
    )
    yield Stated("signed off", sentence, Tone.GOOD)
    if not facts.profile_unchanged:
        yield Said(
            "The rig profile has changed since: what is wired is not what the profile says now.", Tone.WARNING
        )


def _rig(facts: BuildingFacts) -> Iterator[tuple[str, str]]:
    yield "rig", f"{facts.title} ({facts.rig})"
    yield "profile", f"SHA-256 {facts.rig_sha256}"
    yield "built by", facts.built_by
    yield "wiring checked by", facts.checked_by
    yield "signed", moment_words(facts.signed_utc)
    yield "self-check", facts.self_check


def _measured_row(step: StepFacts) -> tuple[Cell, ...]:
    what = step.words.removeprefix("Measure the ").rstrip(".")
    return (
        Cell(what),
        Cell(step.measured),
        Cell(step.unit),
        Cell(_limits(step)),
        Cell(moment_words(step.utc)),
    )


def _limits(step: StepFacts) -> str:
    if step.low is None:
        return f"at most {step.high:g}"
    return f"{step.low:.4g} or more" if step.high is None else f"{step.low:.4g} to {step.high:.4g}"
