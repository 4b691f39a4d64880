"""Look-up: a path, then the user's folder, then what is shipped; nobody's file is passed over in silence."""

from __future__ import annotations

from pathlib import Path

import pytest

from rig.cli.main import main
from rig.library import HOME_VARIABLE, Library, Section, user_folder
from tests.badfiles import only_problem
from wiring.tomlfile import DataFileError

BARREL = Section.TYPES.shipped()["barrel-18-rail"].read_text(encoding="utf-8")
ORDER = Section.ORDERS.shipped()["tipper-point-no"].read_text(encoding="utf-8")


class Shop:
    """A user's folder, and what the library tells while it is used."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.told: list[str] = []
        self.library = Library(home, self.told.append)

    def keep(self, section: Section, name: str, text: str) -> Path:
        path = self.home / section.folder / f"{name}.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


@pytest.mark.parametrize("section", Section)
def test_an_empty_shop_knows_what_is_shipped(shop: Shop, section: Section) -> None:
    entries = shop.library.entries(section)
    assert {name: entry.path for name, entry in entries.items()} == section.shipped()
    assert entries
    assert not any(entry.own or entry.hides for entry in entries.values())


@pytest.mark.parametrize("section", Section)
def test_a_file_of_ones_own_goes_before_the_shipped_one(shop: Shop, section: Section) -> None:
    name = next(iter(section.shipped()))
    mine, new = shop.keep(section, name, ""), shop.keep(section, "zz-new", "")
    entries = shop.library.entries(section)
    assert (entries[name].path, entries[name].own, entries[name].hides) == (mine, True, True)
    assert (entries["zz-new"].path, entries["zz-new"].own, entries["zz-new"].hides) == (new, True, False)
    assert len(entries) == len(section.shipped()) + 1
    assert list(entries) == sorted(entries)


def test_each_kind_of_file_is_read_from_the_shop_by_name(shop: Shop) -> None:
    shop.keep(Section.TYPES, "own-type", BARREL.replace('"barrel-18-rail"', '"own-type"'))
    shop.keep(Section.ORDERS, "own-order", ORDER.replace('"barrel-18-rail"', '"own-type"'))
    profile = Section.RIGS.shipped()["simulated"].read_text(encoding="utf-8")
    shop.keep(Section.RIGS, "own-rig", profile.replace('name = "simulated"', 'name = "own-rig"'))
    bench = Section.BENCHES.shipped()["sound"].read_text(encoding="utf-8")
    shop.keep(Section.BENCHES, "own-bench", bench.replace("seed = 1", "seed = 77"))

    order, sensor_type = shop.library.read_order("own-order")
    assert (order.sensor_type, sensor_type.name) == ("own-type", "own-type")
    assert shop.library.read_rig("own-rig").name == "own-rig"
    assert shop.library.read_bench("own-bench").seed == 77
    assert shop.told == []


def test_a_hidden_shipped_file_is_told_by_name_when_it_is_passed_over(shop: Shop) -> None:
    mine = shop.keep(Section.TYPES, "barrel-18-rail", BARREL.replace("range_mm = 800", "range_mm = 700"))
    _, sensor_type = shop.library.read_order("tipper-point-no")
    assert sensor_type.sensing.range_mm == 700
    assert shop.told == [f"sensor type barrel-18-rail is your own file {mine}, not the shipped one"]


def test_a_path_goes_before_every_name(shop: Shop, tmp_path: Path) -> None:
    shop.keep(Section.TYPES, "barrel-18-rail", "broken")
    path = tmp_path / "barrel-18-rail.toml"
    path.write_text(BARREL.replace("range_mm = 800", "range_mm = 650"), encoding="utf-8")
    assert shop.library.read_type(str(path)).sensing.range_mm == 650
    assert shop.told == []


def test_a_broken_file_is_refused_and_the_shipped_one_does_not_step_in(shop: Shop) -> None:
    mine = shop.keep(Section.TYPES, "barrel-18-rail", BARREL.replace("range_mm = 800", "range_mm = -1"))
    problem = only_problem(lambda: shop.library.read_order("tipper-point-no"))
    assert (problem.file, problem.key) == (str(mine), "sensing.range_mm")


def test_a_broken_file_does_not_stand_in_the_way_of_others(shop: Shop) -> None:
    shop.keep(Section.TYPES, "aa-broken", "this is no TOML")
    assert shop.library.read_order("tipper-point-no")[1].name == "barrel-18-rail"
    assert "aa-broken" in shop.library.entries(Section.TYPES)


@pytest.mark.parametrize(
    ("section", "read"),
    [(Section.TYPES, "read_type"), (Section.RIGS, "read_rig"), (Section.LABELS, "read_label")],
)
def test_a_name_inside_that_is_not_the_files_is_told_on_its_line(
    shop: Shop, section: Section, read: str
) -> None:
    name, path = next(iter(section.shipped().items()))
    text = path.read_text(encoding="utf-8")
    mine = shop.keep(section, "copy", text)
    problem = only_problem(lambda: getattr(shop.library, read)("copy"))
    line = 1 + next(number for number, line in enumerate(text.splitlines()) if line.startswith("name ="))
    assert (problem.file, problem.line, problem.key) == (str(mine), line, "name")
    assert problem.given == f'"{name}"'
    assert problem.allowed == f'"copy", or a file named {name}.toml'
    assert getattr(shop.library, read)(str(mine)).name == name  # a path may lead to any name


def test_a_type_beside_an_order_of_the_shop_is_found_from_there(shop: Shop) -> None:
    shop.keep(Section.ORDERS, "own-order", ORDER.replace('"barrel-18-rail"', '"../types/own.toml"'))
    shop.keep(Section.TYPES, "own", BARREL)
    assert shop.library.read_order("own-order")[1].name == "barrel-18-rail"


def test_files_of_an_editor_and_other_files_are_no_types(shop: Shop) -> None:
    for name in (".#a", "b.toml~", "README", ".toml"):
        (shop.keep(Section.TYPES, "x", BARREL).parent / name).write_text("", encoding="utf-8")
    (shop.home / "types" / ".c.toml").write_text("", encoding="utf-8")
    assert set(shop.library.entries(Section.TYPES)) == {"x", *Section.TYPES.shipped()}


def test_a_folder_that_is_none_is_told(shop: Shop) -> None:
    (shop.home / "types").write_text("", encoding="utf-8")
    problem = only_problem(lambda: shop.library.read_type("barrel-18-rail"))
    assert problem.file == str(shop.home / "types")
    assert "cannot be looked into" in problem.message


def test_an_unknown_name_is_told_with_the_shops_names_too(shop: Shop) -> None:
    shop.keep(Section.TYPES, "ottermoor-18", BARREL)
    problem = only_problem(lambda: shop.library.read_type("ottermor-18"))
    assert "did you mean ottermoor-18?" in problem.message
    assert "ottermoor-18" in problem.allowed
    assert "block-rail" in problem.allowed


def test_the_folder_is_the_users_own_or_the_one_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv(HOME_VARIABLE, "")
    assert user_folder() == tmp_path / "config" / "teachrig"
    monkeypatch.chdir(tmp_path)
    Path("shop").mkdir()
    monkeypatch.setenv(HOME_VARIABLE, "shop")
    assert user_folder() == tmp_path / "shop"


def test_a_named_folder_that_is_not_there_is_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(HOME_VARIABLE, str(tmp_path / "shpo"))
    with pytest.raises(DataFileError, match=r"TEACHRIG_HOME: there is no such folder .*shpo"):
        user_folder()


class TestCommands:
    """What `plan` and `demo` make of a shop's own files."""

    @pytest.fixture(autouse=True)
    def _at_home(self, monkeypatch: pytest.MonkeyPatch, shop: Shop) -> None:
        monkeypatch.setenv(HOME_VARIABLE, str(shop.home))

    def test_plan_says_that_a_file_of_ones_own_is_used(
        self, shop: Shop, capsys: pytest.CaptureFixture[str]
    ) -> None:
        mine = shop.keep(Section.TYPES, "barrel-18-rail", BARREL)
        assert main(["plan", "tipper-point-no"]) == 0
        told = capsys.readouterr()
        assert f"note: sensor type barrel-18-rail is your own file {mine}" in told.err
        assert str(mine) not in told.out

    def test_plan_finds_orders_of_the_shop(self, shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
        shop.keep(Section.ORDERS, "monday", ORDER.replace("QOC-0101", "QOC-9999"))
        assert main(["plan", "monday"]) == 0
        assert "QOC-9999" in capsys.readouterr().out

    def test_plan_refuses_a_broken_file_by_name(self, shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
        mine = shop.keep(Section.TYPES, "barrel-18-rail", "range_mm = 3")
        assert main(["plan", "tipper-point-no"]) == 2
        told = capsys.readouterr()
        assert str(mine) in told.err
        assert told.out == ""

    def test_demo_is_the_same_whatever_the_shop_keeps(self, shop: Shop, tmp_path: Path) -> None:
        for section, names in ((Section.TYPES, Section.TYPES.shipped()), (Section.RIGS, ["simulated"])):
            for name in names:
                shop.keep(section, name, "broken")
        assert main(["demo", "--units", "1", "--data", str(tmp_path / "data")]) == 0
