"""The certificate of one unit, as it stands on its page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rig.events import FigureMeasured, Purpose, RequirementJudged, Verdict
from rig.papers.certificate_facts import CertificateFacts
from rig.papers.paper import (
    Block,
    Cell,
    Column,
    Grid,
    Pairs,
    Paper,
    Part,
    Said,
    Signatures,
    Stated,
    Tone,
    tone_of,
)
from rig.papers.setting_facts import SettingFacts
from rig.papers.unit_chart import unit_chart
from rig.recount.edge_rows import limit_words, percent_words, value_words

SIMULATED = "SIMULATED BENCH: a made-up unit, no hardware was touched. This paper proves nothing."

_SENTENCES = {
    Verdict.GOOD: "This unit conforms to the setting below.",
    Verdict.BAD: "This unit does not conform to the setting below. Do not use it.",
    Verdict.UNDECIDED: "Nothing is stated on the conformity of this unit. Do not use it.",
}


def certificate(facts: CertificateFacts, made_by: str) -> Paper:
    """The paper of one unit; `made_by` names the program."""
    return Paper(
        kind=_kind(facts),
        name=facts.serial,
        warning=SIMULATED if facts.simulated else "",
        parts=tuple(_parts(facts)),
        foot=f"{_kind(facts)}: {facts.serial}, order {facts.setting.order}. {made_by}.",
    )


def _kind(facts: CertificateFacts) -> str:
    kind = "Certificate of setting" if facts.certifies else "Record of a unit, no certificate"
    return f"{kind} (SIMULATED)" if facts.simulated else kind


def _parts(facts: CertificateFacts) -> Iterator[Part]:
    yield Part("", tuple(_head(facts)))
    yield Part("Setting", (Pairs(tuple(_setting(facts))),))
    yield Part(_results_title(facts), tuple(_results(facts)))
    yield Part("Decision", (Pairs(tuple(_decision(facts))),))
    yield Part("Air, rig, record", (Pairs(tuple(_circumstances(facts))),))
    yield Part("", (Signatures(_signed_for(facts)),))


def _head(facts: CertificateFacts) -> Iterator[Block]:
    word = str(facts.verdict) if facts.agrees else f"{facts.verdict}, NOT CONFIRMED"
    sentence = _SENTENCES[facts.verdict] if facts.agrees else "The record does not lead to this verdict."
    told = f"{sentence} {facts.words[:1].upper()}{facts.words[1:]}."
    yield Stated(word, told, tone_of(facts.verdict) if facts.agrees else Tone.WARNING)
    for words in facts.departures:
        yield Said(f"Worked out again from the record: {words}", Tone.WARNING)
    for words in facts.later:
        yield Said(words, Tone.WARNING)


def _setting(facts: CertificateFacts) -> Iterator[tuple[str, str]]:
    setting = facts.setting
    yield "serial", facts.serial
    yield "order", f"{setting.order} for {setting.customer}"
    yield "sensor type", f"{setting.title} ({setting.sensor_type})"
    yield "reference designation", setting.designation or "none in the order"
    yield "setting", f"{setting.mode}, {setting.output_function}, {setting.output_type}"
    yield "set at the machine", points_words(setting)
    by = f" by {facts.person}" if facts.person else ""
    yield "done", f"{facts.done}{by}, {moment_words(facts.began_utc)} to {moment_words(facts.judged_utc)}"
    if facts.contacts:
        yield "teach contacts", ", ".join(_contacts(facts.contacts))
    yield "method", f"{setting.method}; {setting.target}"


def _contacts(contacts: Sequence[tuple[str, float]]) -> Iterator[str]:
    """The contacts in order, equal ones that follow one another counted."""
    for words, alike in groupby(f"{rail} {length_s:.2f} s" for rail, length_s in contacts):
        count = sum(1 for _ in alike)
        yield words if count == 1 else f"{count} times {words}"


def points_words(setting: SettingFacts) -> str:
    """The set points with their tolerance."""
    points = (f"{one.name} {one.machine_mm:g} \u00b1 {setting.tolerance_mm:g} mm" for one in setting.points)
    return ", ".join(points) or "no set point: the whole range"


def moment_words(utc: str) -> str:
    """A moment of the record without parts of a second."""
    return f"{utc[:10]} {utc[11:19]} UTC" if utc[10:11] == "T" else utc


def _results_title(facts: CertificateFacts) -> str:
    percent = f"{facts.setting.coverage_percent:g} %"
    return f"Results; U: expanded uncertainty, coverage probability {percent} (JCGM 100)"


def _results(facts: CertificateFacts) -> Iterator[Block]:
    chart = unit_chart(facts)
    if chart is not None:
        yield chart
    if facts.requirements:
        yield _requirements(facts)
    elif facts.setting.points:
        yield Said(_uncertainty_words(facts.setting))
    if facts.readings and not facts.requirements:
        yield _readings(facts)
    if facts.not_told:
        yield Said(f"This bench cannot tell: {', '.join(facts.not_told)}.")


def _uncertainty_words(setting: SettingFacts) -> str:
    told = "; ".join(f"{one.name} U = {one.guard_mm:.2f} mm" for one in setting.points)
    return f"Where the target stood for a reading, at the machine: {told}."


def _requirements(facts: CertificateFacts) -> Grid:
    columns = (
        Column("what", 32),
        Column("measured \u00b1 U", 22, number=True),
        Column("allowed", 24),
        Column("verdict", 14),
        Column("chance that this is wrong", 24, number=True),
    )
    told = (_told_only(one) for one in facts.deviations if one.value is not None)
    return Grid(
        "What was measured, on the bench, and what it was held against",
        columns,
        (*told, *(_requirement(one) for one in facts.requirements)),
    )


def _told_only(figure: FigureMeasured) -> tuple[Cell, ...]:
    value = value_words(figure.value, figure.expanded, figure.unit, sign=True)
    return Cell(figure.name), Cell(value), Cell("-"), Cell("told only"), Cell("-")


def _requirement(one: RequirementJudged) -> tuple[Cell, ...]:
    value = one.words if one.value is None else value_words(one.value, one.expanded, one.unit)
    allowed = limit_words(one) or "-"
    risk = "-" if one.risk is None else percent_words(one.risk)
    return (
        Cell(one.requirement),
        Cell(value),
        Cell(allowed),
        Cell(str(one.verdict), tone_of(one.verdict)),
        Cell(risk),
    )


def _readings(facts: CertificateFacts) -> Grid:
    columns = (Column("what", 46), Column("read", 24), Column("must be", 26), Column("proves", 30))
    rows = tuple(tuple(map(Cell, (row.what, row.read, row.wanted, row.proves))) for row in facts.readings)
    return Grid("What was read, and what it had to be", columns, rows)


def _decision(facts: CertificateFacts) -> Iterator[tuple[str, str]]:
    yield "rule", " ".join(_sentences(facts.setting.rule))
    if facts.setting.risk:
        yield "risk", facts.setting.risk
    elif facts.largest_risk is not None:
        yield (
            "risk",
            f"Largest chance that one of these verdicts is wrong: {percent_words(facts.largest_risk)}.",
        )
    yield from facts.why
    if facts.agrees:
        yield "worked out again", "From this record alone, by the same steps: the same verdict."


def _sentences(words: Sequence[str]) -> Iterator[str]:
    for one in words:
        yield f"{one[:1].upper()}{one[1:]}"


def _circumstances(facts: CertificateFacts) -> Iterator[tuple[str, str]]:
    setting = facts.setting
    yield from setting.air
    yield "rig", f"{setting.rig_title} ({setting.rig}), nest {facts.nest}"
    yield "calibration", setting.calibration
    yield "software", f"teachrig {facts.software}"
    first, last = facts.entries
    yield "record", f"run {facts.run}, entries {first} to {last}"
    yield "seal of the record", facts.seal or "none: this record keeps no seals"


def _signed_for(facts: CertificateFacts) -> tuple[str, ...]:
    done = "taught and proved by" if facts.purpose is Purpose.SET else "proved by"
    return (done, "date", "released by" if facts.certifies else "put aside by", "date")
