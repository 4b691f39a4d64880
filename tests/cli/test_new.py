"""`teachrig new`: questions, answers, and a file that is right, or none at all."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rig.library import Section
from rig.schemas import schema_text
from tests.cli.typist import Desk
from tests.looking import examples

TYPES = {
    name: tomllib.loads(path.read_text(encoding="utf-8")) for name, path in Section.TYPES.shipped().items()
}

BEGIN = ["QOC-0201", "Quillmere Orchard Co-op", "barrel-18-rail", "12", "", "", ""]
POINT = [*BEGIN, "", "", "single-point", "", "400", "", "", ""]
WINDOW = [*BEGIN, "NPN", "known", "window", "NC", "150", "450,5", "9", "=L1.H1-BG1", "Hopper of line 1"]
FULL_RANGE = [*BEGIN[:2], "5", "3", "-", "41", "4", "known", "1", "", ""]
NEED = [*BEGIN[:2], "barrel-18-plain", *BEGIN[3:], "", "proposed"]
COLD_STORE = [*NEED, "180", "420", "520", "", "no object", "plate", "1200", "760", "", "2", "6", "-2", "", ""]
TYPE = ["barrel-18-rail", "shop-18", "Shop M18", *[""] * 45]
RIG = ["shop-bench", "The bench in the shop", *[""] * 50]
ALL = {"order": WINDOW, "type": TYPE, "rig": RIG}


class TestOrder:
    def test_what_is_answered_is_what_the_file_says(self, desk: Desk) -> None:
        assert desk.made("order", typed=WINDOW) == {
            "number": "QOC-0201",
            "customer": "Quillmere Orchard Co-op",
            "quantity": 12,
            "sensor_type": "barrel-18-rail",
            "serial_run": {"prefix": "QOC-0201-", "first": 1, "digits": 3},
            "setting": {
                "mode": "window",
                "output_function": "NC",
                "output_type": "NPN",
                "near_mm": 150,
                "far_mm": 450.5,
                "tolerance_mm": 9,
                "reference_designation": "=L1.H1-BG1",
            },
            "notes": "Hopper of line 1",
        }

    def test_numbers_stand_for_choices_and_a_dash_for_nothing(self, desk: Desk) -> None:
        made = desk.made("order", typed=FULL_RANGE)
        assert (made["sensor_type"], made["quantity"]) == ("block-rail", 3)
        assert made["serial_run"] == {"first": 41, "digits": 4}
        assert made["setting"] == {"mode": "full-range", "output_function": "NO", "output_type": "push-pull"}

    @pytest.mark.parametrize(
        "typed", [POINT, WINDOW, FULL_RANGE, COLD_STORE], ids=["point", "window", "full range", "need"]
    )
    def test_it_can_be_planned_by_its_number_at_once(self, desk: Desk, typed: list[str]) -> None:
        code, out, err = desk.new("order", typed=typed)
        assert (code, out) == (0, f"{desk.shop.home}/orders/QOC-0201.toml\n")
        assert err.endswith("next: teachrig plan QOC-0201\n")
        code, out, _ = desk.shop.run("plan", "QOC-0201")
        assert code == 0
        assert "order QOC-0201 for" in out

    def test_every_key_of_the_file_is_explained_by_the_model(self, desk: Desk) -> None:
        desk.made("order", typed=WINDOW)
        text = (desk.shop.home / "orders" / "QOC-0201.toml").read_text(encoding="utf-8")
        schema = json.loads(schema_text("order"))
        for table in (schema, schema["$defs"]["Setting"], schema["$defs"]["SerialRun"]):
            for key, about in table["properties"].items():
                if f"\n{key} = " in text:
                    before = text.partition(f"\n{key} = ")[0].rpartition("\n\n")[2]
                    told = " ".join(line.removeprefix("# ") for line in before.splitlines())
                    assert about["description"] in told, key

    def test_a_plan_that_is_refused_leads_back_with_what_would_pass(self, desk: Desk) -> None:
        code, _, err = desk.new("order", "--out", "-", typed=[*WINDOW[:11], "150", "155", "2", *[""] * 9])
        assert code == 0
        assert "window is smaller than the type can hold (given 5 mm); possible: 20 mm or more" in err
        assert err.count("near end of a window") == 1
        assert "[170] > " in err.rpartition("far end of a window")[2]

    def test_a_setting_may_be_left_to_a_proposal_from_the_need(self, desk: Desk) -> None:
        code, _, err = desk.new("order", "--out", "-", typed=COLD_STORE)
        assert code == 0
        assert re.search(r"proposed: single-point NO, only \d+ mm, tolerance [\d.]+ mm", err)
        made = desk.made("order", typed=COLD_STORE)
        assert made["setting"] == {"output_type": "PNP"}
        assert made["need"] == {
            "nearest_mm": 180,
            "farthest_mm": 420,
            "background_mm": 520,
            "broken_wire_reads": "no object",
            "object": {
                "shape": "plate",
                "width_mm": 1200,
                "height_mm": 760,
                "surface": "hard",
                "tilt_deg": 2,
            },
            "air": {"warmest_c": 6, "coldest_c": -2},
        }

    def test_a_need_that_cannot_be_met_leads_back_to_what_stands_against_it(self, desk: Desk) -> None:
        _, _, err = desk.new("order", typed=[*NEED, "400", "780", "", *COLD_STORE[12:]])
        assert "this cannot be done on rig simulated:" in err
        assert "objects go farther than the type surely hears them" in err
        assert re.search(r"would fit: .*barrel-30-length", err)
        assert err.partition("this cannot be done")[2].count("farthest place of an object") == 1

    def test_a_type_that_is_not_compensated_wants_the_air(self, desk: Desk) -> None:
        made = desk.made("order", typed=[*BEGIN[:2], "barrel-18-plain", *POINT[3:13], "6", "-", "-2", "", ""])
        assert made["need"] == {"air": {"warmest_c": 6, "coldest_c": -2}}

    def test_it_is_planned_on_the_rig_that_is_named(self, desk: Desk) -> None:
        profile = Section.RIGS.shipped()["single-nest"].read_text(encoding="utf-8")
        short = profile.replace("farthest_mm = 1500.0", "farthest_mm = 300.0")
        desk.shop.keep(Section.RIGS, "short", short.replace('name = "single-nest"', 'name = "short"'))
        code, _, err = desk.new("order", "--rig", "short", typed=[*POINT[:13], "250", "", "", ""])
        assert code == 0
        assert "this cannot be done on rig short" in err
        assert "reach of the target" in err

    def test_only_types_that_are_right_are_offered(self, desk: Desk) -> None:
        desk.shop.keep(Section.TYPES, "aa-broken", "oops")
        desk.shop.keep(Section.TYPES, "block-rail", "oops")
        _, _, err = desk.new("order", typed=WINDOW[:2])
        assert "1 barrel-12-count   M12 barrel, 300 mm" in err
        assert "aa-broken" not in err
        assert "block-rail  " not in err


SLIPS = [
    # which line of WINDOW, what is typed there first, what is said
    (0, "QOC 0201", "is not written as it has to be; allowed: number of the order, letters, digits"),
    (0, "", "an answer is needed here"),
    (0, "<", "this is the first question"),
    (0, "Q" * 31, "too long; allowed:"),
    (1, "Quill\x1b[2Jmere", "holds a character that cannot be printed, U+001B"),
    (1, "Quillm\udce9re", "is not UTF-8 text"),
    (2, "barrel-18-rial", "did you mean barrel-18-rail?"),
    (2, "9", "allowed: barrel-12-count, barrel-18-plain"),
    (3, "0", "too small; allowed: a whole number from 1 to 10000"),
    (3, "2.5", "must be a whole number"),
    (3, "a dozen", '"a dozen" is no number'),
    (5, "-1", "too small; allowed: a whole number from 0"),
    (6, "1", "the last unit has number 12; allowed: 2 or more"),
    (9, "widnow", "did you mean window?"),
    (10, "off", "allowed: NO, NC"),
    (7, "push-pull", "allowed: PNP, NPN"),
    (11, "60", "in the blind zone of barrel-18-rail; allowed: above 60 to 800"),
    (11, "801", "beyond the range of barrel-18-rail; allowed: above 60 to 800"),
    (11, "-5", "too small; allowed: a number above 0"),
    (11, "nan", '"nan" is no number'),
    (11, "15 cm", "is not in the unit asked for; allowed: a number in mm"),
    (11, "1,500", "1,500 may be 1.500 or 1500"),
    (12, "140", "near_mm: must be less than far_mm; allowed: less than far_mm = 140"),
    (12, "150", "near_mm: must be less than far_mm"),
    (13, "151", "too large for these set points; allowed: less than 150"),
    (13, "9" * 400, "is no number"),
    (14, "=l1-bg3", "allowed: capital letters and digits behind"),
    (15, "x" * 2001, "too long; allowed: text of at most 2000 characters"),
]


@pytest.mark.parametrize(
    ("place", "slip", "said"), SLIPS, ids=[f"{place}-{slip[:12]!r}" for place, slip, _ in SLIPS]
)
def test_a_wrong_answer_is_told_why_and_asked_again(desk: Desk, place: int, slip: str, said: str) -> None:
    code, _, err = desk.new("order", typed=[*WINDOW[:place], slip, *WINDOW[place:]])
    assert said in " ".join(err.split())
    assert code == 0
    right = tomllib.loads((desk.shop.home / "orders" / "QOC-0201.toml").read_text(encoding="utf-8"))
    (desk.shop.home / "orders" / "QOC-0201.toml").unlink()
    assert right == desk.made("order", typed=WINDOW)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("400", 400), ("400.5", 400.5), ("400,5", 400.5), ("400 mm", 400), ("400,25MM", 400.25), ("0400", 400)],
)
def test_distances_as_people_write_them(desk: Desk, typed: str, meant: float) -> None:
    assert desk.made("order", typed=[*POINT[:11], typed, *POINT[12:]])["setting"]["at_mm"] == meant


class TestGoingBack:
    def test_one_question_with_its_last_answer_offered(self, desk: Desk) -> None:
        made = desk.made("order", typed=[*WINDOW[:4], "<", "14", *WINDOW[4:]])
        assert made["quantity"] == 14
        assert "[12] > " in desk.new("order", typed=[*WINDOW[:4], "<"])[2]

    def test_to_another_mode_forgets_what_belongs_to_the_first(self, desk: Desk) -> None:
        typed = [*WINDOW[:13], *["<"] * 4, "single-point", "NO", "400", "", "", ""]
        setting = desk.made("order", typed=typed)["setting"]
        assert setting == {
            "mode": "single-point",
            "output_function": "NO",
            "output_type": "NPN",
            "at_mm": 400,
            "tolerance_mm": 8,
        }

    def test_as_far_as_the_first_question(self, desk: Desk) -> None:
        made = desk.made("order", typed=[*WINDOW[:11], *["<"] * 11, "QOC-0300", *[""] * 10, *WINDOW[11:]])
        assert made["number"] == "QOC-0300"
        assert made["setting"]["mode"] == "window"


@pytest.mark.parametrize("interrupts", [False, True], ids=["end of input", "Ctrl-C"])
@pytest.mark.parametrize("kind", ALL)
def test_whoever_leaves_early_leaves_nothing_behind(desk: Desk, kind: str, interrupts: bool) -> None:
    code, _, err = desk.new(kind, typed=ALL[kind])
    assert code == 0
    for path in sorted(desk.shop.home.rglob("*"), reverse=True):
        path.unlink() if path.is_file() else path.rmdir()
    questions = err.count(" > ")
    for answered in range(0, questions, 1 if kind == "order" else 9):
        code, out, err = desk.new(kind, typed=ALL[kind][:answered], interrupts=interrupts)
        assert (code, out) == (130, "")
        assert err.endswith("left before the end; nothing is written\n")
        assert desk.files == []


class TestWhereItGoes:
    def test_a_file_that_is_there_is_refused_before_the_first_question(
        self, desk: Desk, tmp_path: Path
    ) -> None:
        there = tmp_path / "there.toml"
        there.write_text("mine", encoding="utf-8")
        code, out, err = desk.new("order", "--out", str(there), typed=WINDOW)
        assert (code, out) == (2, "")
        assert f"{there}: is there already" in err
        assert " > " not in err
        assert there.read_text(encoding="utf-8") == "mine"

    @pytest.mark.parametrize(
        ("out", "said"), [("order.txt", "a path that ends in .toml"), ("no/where.toml", "no such folder")]
    )
    def test_a_place_that_is_none_is_refused_before_the_first_question(
        self, desk: Desk, tmp_path: Path, out: str, said: str
    ) -> None:
        code, _, err = desk.new("order", "--out", str(tmp_path / out), typed=WINDOW)
        assert code == 2
        assert said in err
        assert " > " not in err

    def test_a_named_file(self, desk: Desk, tmp_path: Path) -> None:
        path = tmp_path / "monday.toml"
        desk.made("order", "--out", str(path), typed=WINDOW)
        assert path.is_file()
        assert desk.files == []

    def test_standard_output_holds_the_file_alone(self, desk: Desk) -> None:
        code, out, _ = desk.new("order", "--out", "-", typed=WINDOW)
        assert code == 0
        assert tomllib.loads(out)["number"] == "QOC-0201"
        assert desk.files == []

    def test_names_that_are_taken_are_asked_for_again(self, desk: Desk) -> None:
        desk.made("order", typed=WINDOW)
        _, _, err = desk.new("order", typed=["QOC-0201"])
        taken = "another file has this name; allowed: a name of its own"
        assert taken in err
        assert taken in desk.new("type", typed=["5", "block-rail"])[2]
        assert taken in desk.new("rig", typed=["simulated"])[2]

    def test_answers_are_not_lost_if_the_file_appears_meanwhile(self, desk: Desk, tmp_path: Path) -> None:
        path = tmp_path / "late.toml"
        typed = iter(WINDOW)

        class Late:
            def readline(self) -> str:
                path.write_text("another's", encoding="utf-8")
                return f"{next(typed)}\n"

        desk._monkeypatch.setattr("sys.stdin", Late())
        code, out, err = desk.shop.run("new", "order", "--out", str(path))
        assert code == 2
        assert f"{path}: cannot be written: File exists; the file is printed" in err
        assert tomllib.loads(out)["number"] == "QOC-0201"
        assert path.read_text(encoding="utf-8") == "another's"

    def test_rig_belongs_to_orders(self, desk: Desk) -> None:
        code, _, err = desk.new("type", "--rig", "simulated", typed=TYPE)
        assert code == 2
        assert "--rig belongs to an order" in err


class TestType:
    @pytest.mark.parametrize("pattern", TYPES)
    def test_enter_alone_takes_over_the_pattern(self, desk: Desk, pattern: str) -> None:
        made = desk.made("type", typed=[pattern, "shop-own", "Shop's own", *TYPE[3:]])
        wanted = {**TYPES[pattern], "name": "shop-own", "title": "Shop's own"}
        wanted["sensing"] = {key: value for key, value in wanted["sensing"].items() if key != "resolution_mm"}
        del wanted["notes"]
        assert made == wanted

    def test_it_is_known_at_once_and_can_be_ordered_and_planned(self, desk: Desk) -> None:
        desk.made("type", typed=TYPE)
        code, out, _ = desk.shop.run("types", "shop-18")
        assert code == 0
        assert out.startswith("shop-18: Shop M18\nyour own file ")
        desk.made("order", typed=[*WINDOW[:2], "shop-18", *WINDOW[3:]])
        assert desk.shop.run("plan", "QOC-0201")[0] == 0

    def test_the_file_says_what_nobody_was_asked_for(self, desk: Desk) -> None:
        desk.made("type", typed=TYPE)
        text = (desk.shop.home / "types" / "shop-18.toml").read_text(encoding="utf-8")
        heading = " ".join(line.removeprefix("# ") for line in text.partition("\n\n")[0].splitlines())
        assert "sequences are those of barrel-18-rail" in heading
        assert "compare every step with the maker's instructions" in heading
        assert heading.endswith("Taken over without asking: teach_method, derating, factory, sequence.")

    def test_a_rectangular_body_has_no_thread(self, desk: Desk) -> None:
        made = desk.made("type", typed=[*TYPE[:3], "rectangular", *TYPE[4:]])
        assert "thread_mm" not in made["body"]

    def test_drift_is_the_airs_own_where_nothing_is_compensated(self, desk: Desk) -> None:
        code, _, err = desk.new("type", typed=TYPE)
        assert code == 0
        place = next(
            number for number, words in enumerate(err.split(" > ")) if "corrects for the air itself" in words
        )
        made = desk.made("type", typed=["3", "own-b", *TYPE[2:place], "n", *TYPE])
        assert made["sensing"]["temperature_compensated"] is False
        assert made["sensing"]["drift_percent_per_k"] == 0.17

    @settings(max_examples=examples(8), suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(
        st.sampled_from(sorted(TYPES)),
        st.floats(0.05, 5).map(lambda value: round(value, 2)),
        st.floats(0.5, 40).map(lambda value: round(value, 2)),
    )
    def test_sequences_keep_within_whatever_contacts_the_type_takes(
        self, desk: Desk, pattern: str, shortest_s: float, span_s: float
    ) -> None:
        err = desk.new("type", "--out", "-", typed=[pattern, "x", "x", *TYPE[3:]])[2]
        place = next(n for n, words in enumerate(err.split(" > ")) if "longest contact, in seconds" in words)
        longest_s = round(shortest_s + span_s, 2)
        typed = [pattern, "x", "x", *[""] * (place - 3), f"{longest_s}", f"{shortest_s}", *TYPE[3:]]
        code, text, err = desk.new("type", "--out", "-", typed=typed)
        assert code == 0, err
        for sequence, before in zip(tomllib.loads(text)["sequence"], TYPES[pattern]["sequence"], strict=True):
            contacts = [step for step in sequence["steps"] if step["do"] == "contact"]
            lengths = [step["longest_s"] for step in before["steps"] if step["do"] == "contact"]
            order = sorted(range(len(contacts)), key=lambda place: lengths[place])
            assert order == sorted(order, key=lambda place: contacts[place]["longest_s"])  # of spans
            assert all(shortest_s <= step["shortest_s"] < step["longest_s"] <= longest_s for step in contacts)


TYPED = st.one_of(
    st.just(""),
    st.sampled_from(
        ["<", "-", "1", "2", "3", "y", "n", "400", "0,5", "12.5", "1e9", "GPIO5", "low", "-3", "\x00"]
    ),
    st.text(max_size=12),
)


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(sorted(ALL)), st.integers(0, 12), st.lists(TYPED, max_size=40))
def test_whatever_is_typed_there_is_a_right_file_or_none(
    desk: Desk, kind: str, right: int, typed: list[str]
) -> None:
    lines = [*ALL[kind][:right], *(line.replace("\n", " ") for line in typed)]
    code, out, _ = desk.new(kind, "--out", "-", typed=lines)
    assert code in (0, 130)
    assert bool(out) is (code == 0)
    if code == 0:
        path = desk.shop.home / "made.toml"
        path.write_text(out, encoding="utf-8")
        assert desk.shop.run("validate", str(path))[0] == 0
        path.unlink()
    assert desk.files == []
