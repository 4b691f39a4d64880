"""`teachrig commission`: a rig is built wire by wire, measured, self-checked and signed, in many sittings or one."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader

from rig.commissioning.steps import Act, Step, steps_of
from rig.doctor.found import bad
from rig.library import Library, Section
from tests.cli.shop import Shop
from tests.rig.selfcheck.checked import RIGS
from wiring.circuit.build import circuit_of
from wiring.profile import RigProfile, shipped_profiles

STEPS = steps_of(Library(home=None).read_rig("simulated"))
NAMES = ["Maren", "Tobias"]
Sitting = Callable[..., tuple[int, str, str]]


@pytest.fixture
def sit(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Sitting:
    """One sitting: what the person types, until the input ends."""

    def sitting(lines: list[str], *more: str) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return shop.run("commission", *more)

    return sitting


def right(step: Step) -> str:
    """What a meter shows on a rig that is built right."""
    assert step.act is not Act.CHECK, "which the program does itself"
    if step.act is not Act.MEASURE:
        return ""
    if step.high is None:
        return "open"
    return f"{step.high if step.low is None else (step.low + step.high) / 2:.3f}"


RIGHT = [right(step) for step in STEPS if step.act is not Act.CHECK]


def test_a_rig_that_is_built_right_is_signed_and_the_record_shows_what_was_measured(
    shop: Shop, sit: Sitting
) -> None:
    code, out, err = sit([*RIGHT, *NAMES])
    assert code == 0, err
    assert "self-check has passed" in err
    for words in ("Maren", "Tobias", "-R15:1", "open"):
        assert words in out
    code, told = shop.run_json("commission", "--record")
    assert (code, told["built_by"], told["checked_by"], told["self_check"]) == (0, *NAMES, "passed")
    assert [one["step"] for one in told["steps"]] == [step.key for step in STEPS]
    assert shop.run("audit")[0] == 0


def test_the_record_is_a_paper_to_sign_with_every_value_and_its_limits(
    shop: Shop, sit: Sitting, tmp_path: Path
) -> None:
    assert sit([*RIGHT, *NAMES])[0] == 0
    papers = tmp_path / "papers"
    code, _, err = shop.run("commission", "--record", "--out", str(papers))
    assert (code, "building-simulated.pdf" in err) == (0, True)
    pdf = PdfReader(papers / "building-simulated.pdf")
    words = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    html = (papers / "building-simulated.html").read_text(encoding="utf-8")
    for said in (
        "SIMULATED RIG",
        "Maren",
        "Tobias",
        "-R15:1 and -R15:2",
        "950 to 1050",
        "no safety function",
    ):
        assert said in words
        assert said in html
    for step in STEPS:
        assert step.words.removeprefix("Measure the ").rstrip(".")[:40] in words, step.key
    assert shop.run("commission", "--record", "--out", str(papers))[0] == 2, (
        "nothing is replaced without --force"
    )
    assert shop.run("audit")[0] == 0


def test_it_goes_on_where_it_was_left(sit: Sitting) -> None:
    code, _, err = sit(RIGHT[:20])
    assert code == 130
    assert "what is done is kept" in err
    code, _, err = sit([*RIGHT[20:], *NAMES])
    assert code == 0, err
    assert f"{len(STEPS) - 20} of {len(STEPS)} steps are left" in err


def test_a_wrong_value_is_not_passed_over(sit: Sitting) -> None:
    first = next(index for index, step in enumerate(STEPS) if step.act is Act.MEASURE)
    code, _, err = sit([*RIGHT[:first], "0.3", "often", "", "0.2k", "1.5k"])
    assert code == 130
    assert err.count("put it right before you go on") == 2
    assert "is no number of ohm" in err
    assert "a number of ohm is wanted" in err
    code, _, err = sit([], "--rig", "simulated")
    assert f"{len(STEPS) - first - 1} of {len(STEPS)} steps are left" in err


def test_the_program_looks_for_lines_and_ports_itself_until_all_are_there(
    sit: Sitting, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks = iter([[bad("port", "/dev/serial/by-id/stage: No such file", "plug it in")], []])
    monkeypatch.setattr("rig.cli.commission.look_at_bench", lambda _: next(looks))
    before = [step.act for step in STEPS].index(Act.CHECK)
    code, _, err = sit([*RIGHT[:before], "", *RIGHT[before:], *NAMES])
    assert code == 0, err
    assert "x /dev/serial/by-id/stage: No such file: plug it in" in err
    assert err.index("Enter when it is mended") < err.index("everything is there")


def test_one_person_cannot_sign_twice(shop: Shop, sit: Sitting) -> None:
    code, _, err = sit([*RIGHT, "Maren", "maren"])
    assert code == 130
    assert "another person" in err
    assert shop.run("commission", "--record")[0] == 2


def test_a_rig_that_fails_its_self_check_is_not_signed(shop: Shop, sit: Sitting) -> None:
    text = 'title = "test"\n\n[[unit]]\n\n[[fault]]\nkind = "selector-stuck"\n'
    broken = str(shop.keep(Section.BENCHES, "broken", text))
    code, _, err = sit([*RIGHT, *NAMES], "--bench", broken)
    assert code == 3
    assert "-K12:11" in err
    assert shop.run("commission", "--record")[0] == 2
    code, _, err = sit(NAMES)
    assert code == 0, err


def test_a_profile_that_changed_since_is_told(shop: Shop, sit: Sitting) -> None:
    assert sit([*RIGHT, *NAMES])[0] == 0
    text = shipped_profiles()["simulated"].read_text(encoding="utf-8")
    shop.keep(Section.RIGS, "simulated", text.replace("4700.0", "5600.0"))
    code, told = shop.run_json("commission", "--record")
    assert (code, told["profile_unchanged"]) == (1, False)


@pytest.mark.parametrize("name", RIGS)
def test_every_wire_is_laid_once_and_every_point_of_measurement_is_wired(name: str) -> None:
    rig: RigProfile = RIGS[name]
    steps, wires = steps_of(rig), circuit_of(rig).wires()
    told = " ".join(step.words for step in steps if step.act is Act.CONNECT)
    assert [wire for wire in wires if told.count(f"{wire.start} to {wire.end}") != 1] == []
    ends = {str(end) for wire in wires for end in (wire.start, wire.end)}
    measured = [word.strip(",.") for step in steps if step.act is Act.MEASURE for word in step.words.split()]
    points = [word for word in measured if word.startswith("-") and ":" in word]
    assert [point for point in points if point not in ends] == []
    assert len({step.key for step in steps}) == len(steps)


def test_resistors_and_supplies_have_to_be_what_the_profile_says() -> None:
    rig = RIGS["selector, stage"]
    by_key = {step.key: step for step in STEPS}
    series = by_key["ohms -R15:1 -R15:2"]
    assert (series.low, series.high) == pytest.approx((950.0, 1050.0))  # 1 kohm, 5 %
    coil = by_key["ohms -K13:A1 -K13:A2"]
    assert coil.holds(rig.electrical.coil_ohm)
    assert not coil.holds(0.0)
    assert not coil.holds(float("nan"))
