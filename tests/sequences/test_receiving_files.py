"""Receiving plans: the shipped ones are right and fit their types; a slip in one is named with line and key."""

from pathlib import Path

import pytest

from rig.library import Library, Section
from sequences.library import load_receiving, shipped_types
from sequences.receiving import Characteristic, DefectClass
from wiring.tomlfile import DataFileError

SHIPPED = Section.RECEIVING.shipped()


def test_every_shipped_type_has_a_plan_of_its_name_that_tests_everything() -> None:
    assert SHIPPED.keys() == shipped_types().keys()
    for name in SHIPPED:
        plan, sensor_type = Library(None).read_receiving(name)
        assert plan.sensor_type == sensor_type.name == name
        assert plan.test.asked == tuple(Characteristic)
        assert plan.classes == tuple(DefectClass)
        assert plan.output_type in sensor_type.output.types


@pytest.mark.parametrize(
    ("given", "instead", "said"),
    [
        (
            "aql_percent = 0.25",
            "aql_percent = 0.3",
            "accept.major.aql_percent: the tables have no such limit",
        ),
        ("aql_percent = 0.25", "aql_percent = 0.25\nmost = 1", "one way to accept is wanted"),
        ("aql_percent = 0.25", "good_percent = 1", "good_percent and poor_percent go together"),
        ("aql_percent = 0.25", "good_percent = 5\npoor_percent = 1", "must be less than poor_percent"),
        ("aql_percent = 0.25", "zero_percent = 2\nsequential = true", "wants two points"),
        ("[accept.minor]\naql_percent = 2.5\n", "", "does not say when minor defects are accepted"),
        ('[test.trial_setting]\ndefect = "major"', "", "a trial setting and its test belong together"),
        ("at_mm = 400\n", "", "mode single-point needs at_mm"),
        ('defect = "critical"', 'defect = "fatal"', "test.output.defect"),
    ],
)
def test_a_slip_is_named_with_its_line(tmp_path: Path, given: str, instead: str, said: str) -> None:
    text = SHIPPED["barrel-18-rail"].read_text(encoding="utf-8")
    assert given in text
    file = tmp_path / "plan.toml"
    file.write_text(text.replace(given, instead, 1), encoding="utf-8")
    with pytest.raises(DataFileError) as refused:
        load_receiving(file)
    assert said in str(refused.value)
    assert str(file) in str(refused.value)


def test_acceptance_by_numbers_alone_wants_a_sample_size(tmp_path: Path) -> None:
    text = SHIPPED["barrel-18-rail"].read_text(encoding="utf-8")
    by_number = text.replace("aql_percent = 0.25", "most = 1").replace("aql_percent = 2.5", "most = 2")
    file = tmp_path / "plan.toml"
    file.write_text(by_number, encoding="utf-8")
    with pytest.raises(DataFileError, match="nothing says how many units are drawn"):
        load_receiving(file)
    for enough in ("units = 20", "all = true"):
        file.write_text(by_number.replace("[sampling]", f"[sampling]\n{enough}\n#"), encoding="utf-8")
        assert load_receiving(file).sampling
