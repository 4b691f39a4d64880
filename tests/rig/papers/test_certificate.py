"""Certificates: what is said of a unit is what the record says, and no unit gets more than it deserves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rig.events import EdgeMeasured, Purpose, RequirementJudged, UnitJudged, Verdict
from rig.papers.certificate import certificate
from rig.papers.certificate_facts import NoCertificate, certificate_of
from rig.papers.paper import Grid, Stated
from rig.papers.paper_pdf import paper_pdf
from rig.papers.setting_facts import setting_facts
from rig.recount.edge_rows import value_words
from rig.recount.recount import recount
from tests.rig.papers.written import BAD, DEAD, GOOD, attempts, certificate_facts, closed_up, pages
from tests.rig.recount.replays import changed, without


def text_of(made_for: str, *units: int) -> str:
    (page,) = pages(paper_pdf(certificate(certificate_facts(made_for, *units), "teachrig 1"), one_page=True))
    return page


class TestOnOnePage:
    @pytest.mark.parametrize("made_for", ["measured", "point", "counted", "full"])
    @pytest.mark.parametrize("unit", [GOOD, BAD, DEAD])
    def test_every_unit_fits_one_page(self, made_for: str, unit: int) -> None:
        assert text_of(made_for, unit)

    def test_a_measured_unit_tells_every_figure_with_its_uncertainty_and_limits(self) -> None:
        (attempt,) = attempts("measured", GOOD)
        text = closed_up(text_of("measured", GOOD))
        judged = [one.event for one in attempt.events if isinstance(one.event, RequirementJudged)]
        assert len(judged) == 14
        for one in judged:
            assert closed_up(one.requirement) in text
            if one.value is not None:
                assert closed_up(value_words(one.value, one.expanded, one.unit)) in text

    def test_a_unit_read_at_positions_tells_every_reading(self) -> None:
        text = closed_up(text_of("point", GOOD))
        for words in ("at393.3mm,fromlast", "at406.7mm,fromclear", "beamclear", "U=1.25mm"):
            assert words in text

    def test_setting_method_rule_air_rig_software_and_record_are_told(self) -> None:
        text = " ".join(text_of("measured", GOOD).split())
        for words in (
            "near set point 280 \u00b1 6 mm, far set point 560 \u00b1 6 mm",
            "edges measured with the target drive",
            "Guarded acceptance, w = U",
            "23 \u00b1 1 \u00b0C, 50 \u00b1 10 % humidity",
            "Not calibrated: no calibration of this rig is on record.",
            "coverage probability 95 % (JCGM 100)",
            "teachrig test",
            "run run, entries 4 to",
            "the same verdict",
            "this record keeps no seals",
        ):
            assert words in text

    def test_a_simulated_unit_says_so_before_all_else(self) -> None:
        assert text_of("point", GOOD).index("SIMULATED BENCH") < text_of("point", GOOD).index("Setting")


class TestWhatItIsWorth:
    def test_only_a_good_unit_gets_a_certificate(self) -> None:
        assert certificate(certificate_facts("point", GOOD), "").kind.startswith("Certificate")
        for unit in (BAD, DEAD):
            paper = certificate(certificate_facts("point", unit), "")
            assert "no certificate" in paper.kind
            (stated,) = (one for one in paper.parts[0].blocks if isinstance(one, Stated))
            assert "Do not use it." in stated.sentence

    def test_a_verdict_that_the_record_does_not_lead_to_is_not_confirmed(self) -> None:
        """Somebody made a good unit of a bad one, and the record tells on him."""
        (attempt,) = attempts("point", BAD)
        at = next(index for index, one in enumerate(attempt.events) if isinstance(one.event, UnitJudged))
        altered = changed(attempt, at, verdict=Verdict.GOOD, reason="proven", words="6 check positions read")
        facts = certificate_of(altered, recount(altered))
        assert not facts.agrees
        paper = certificate(facts, "")
        assert "no certificate" in paper.kind
        (page,) = pages(paper_pdf(paper, one_page=True))
        assert "NOT CONFIRMED" in page
        assert "the same verdict" not in page
        assert "set point too far out" in page

    def test_a_figure_that_was_changed_is_not_confirmed(self) -> None:
        (attempt,) = attempts("measured", GOOD)
        at = next(index for index, one in enumerate(attempt.events) if isinstance(one.event, EdgeMeasured))
        altered = changed(attempt, at, operate_mm=560.0001)
        assert not certificate_of(altered, recount(altered)).certifies

    def test_without_a_verdict_there_is_nothing_to_certify(self) -> None:
        (attempt,) = attempts("point", GOOD)
        at = next(index for index, one in enumerate(attempt.events) if isinstance(one.event, UnitJudged))
        cut = without(attempt, at)
        with pytest.raises(NoCertificate, match="no verdict"):
            certificate_of(cut, recount(cut))

    def test_a_survey_certifies_nothing(self) -> None:
        (attempt,) = attempts("point", GOOD)
        assert attempt.started is not None
        surveyed = replace(attempt, started=replace(attempt.started, purpose=Purpose.SURVEY))
        with pytest.raises(NoCertificate, match="surveyed"):
            certificate_of(surveyed, recount(surveyed))

    @pytest.mark.parametrize("lost", ["started", "inputs"])
    def test_a_record_that_has_lost_its_order_certifies_nothing(self, lost: str) -> None:
        (attempt,) = attempts("point", GOOD)
        poorer = replace(attempt, **{lost: None})
        with pytest.raises(NoCertificate, match="record"):
            certificate_of(poorer, recount(poorer))

    def test_a_later_run_of_the_unit_is_told(self) -> None:
        (attempt,) = attempts("point", GOOD)
        facts = certificate_of(attempt, recount(attempt), later=("put in again for order QOC-0999",))
        (page,) = pages(paper_pdf(certificate(facts, ""), one_page=True))
        assert "put in again for order QOC-0999" in " ".join(page.split())

    def test_a_seal_is_told(self) -> None:
        (attempt,) = attempts("point", GOOD)
        facts = certificate_of(attempt, recount(attempt), seal="3f" * 32)
        (page,) = pages(paper_pdf(certificate(facts, ""), one_page=True))
        assert "3f" * 32 in closed_up(page)


def test_a_reason_of_another_version_is_told_as_it_stands() -> None:
    (attempt,) = attempts("point", BAD)
    at = next(index for index, one in enumerate(attempt.events) if isinstance(one.event, UnitJudged))
    facts = certificate_of(changed(attempt, at, reason="of-a-later-version"), recount(attempt))
    assert facts.why == ()
    assert certificate(facts, "").parts


def test_the_same_facts_give_the_same_bytes() -> None:
    paper = certificate(certificate_facts("measured", GOOD), "teachrig 1")
    assert paper_pdf(paper) == paper_pdf(paper)


def test_every_requirement_has_its_row_and_verdict() -> None:
    paper = certificate(certificate_facts("measured", BAD), "")
    rows = [row for part in paper.parts for one in part.blocks if isinstance(one, Grid) for row in one.rows]
    verdicts = {row[0].words: row[3].words for row in rows}
    assert verdicts["operate point, outer"] == "bad"
    assert verdicts["output function"] == "good"


def test_the_air_says_where_it_is_known_from() -> None:
    (attempt,) = attempts("point", GOOD)
    assert attempt.inputs is not None
    rig = {**attempt.inputs.rig, "air": {**attempt.inputs.rig["air"], "probe": {"port": "probe"}}}
    probed = replace(attempt, inputs=replace(attempt.inputs, rig=rig))
    typed, measured = (dict(setting_facts(one.planned).air)["air on the bench"] for one in (attempt, probed))
    assert "probe" not in typed
    assert "% humidity by its probe when the order was begun, 101.325" in measured
