"""`teachrig new rig`: every make of bench is asked for whole, and the profile is right."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from tests.cli.typist import Desk

RIG = ["shop-bench", "The bench in the shop", *[""] * 50]

RIGS = {
    "as it is offered": {},
    "simulated": {"gpio: the board": "simulated"},
    "supply that is only set by hand": {"scpi: set": "fixed"},
    "stage": {
        "manual: by hand": "stage",
        "serial port of the stage": "/dev/serial/by-id/stage",
        "speed of the stage": "250",
    },
    "stage of other words": {
        "manual: by hand": "stage",
        "serial port of the stage": "/dev/serial/by-id/stage",
        "speed of the stage": "250",
        "which words does the stage": "other",
        "line that homes the stage": "G28.2 X0",
        "how answers begin that refuse": "error, limit",
        "where the report has the position": "POS X{mm}",
    },
    "gauge by hand": {
        "serial port of the distance gauge": "/dev/serial/by-id/gauge",
        "the target's position while the gauge reads 0": "1600",
        "grows as the target comes nearer": "y",
    },
    "probe and code reader": {
        "serial port of the probe": "/dev/serial/by-id/probe",
        "address on the line, from 0, humidity": "7",
        "serial port of the bar code reader": "/dev/serial/by-id/reader",
    },
    "slots": {"manual: by hand": "slots", "slots for the target": "2", "slot 1": "100", "slot 2": "250,5"},
    "two relays": {"stand between the rails": "two-relay"},
    "two nests": {"how many nests": "2"},
    "two nests of two relays": {"how many nests": "2", "stand between the rails": "two-relay"},
    "nothing that may be left out": {"if fitted": "-"},
    "low-level boards": {"what do the relays work with": "low", "isolated inputs of a nest": "low"},
    "slow relays": {"coil off to contact open, in seconds, longest": "0.03", "teach contact is open": "0,08"},
}


class Reader:
    """Answers by what is asked; takes what is offered everywhere else."""

    def __init__(self, answers: dict[str, str], asked: list[str]) -> None:
        self._answers = {"name of the profile": "shop-bench", "calls this bench": "The shop's", **answers}
        self._asked = asked

    def readline(self) -> str:
        question = " ".join(" ".join(self._asked).split())
        self._asked.clear()
        return next((answer for words, answer in self._answers.items() if words in question), "") + "\n"


class TestRig:
    @pytest.mark.parametrize("name", RIGS)
    def test_every_make_of_bench(self, desk: Desk, name: str) -> None:
        made = self.made(desk, RIGS[name])
        kind = made["target"]["kind"]
        code, _, err = desk.shop.run("plan", "tipper-point-no", "--rig", "shop-bench")
        if kind == "slots":
            assert "target has no slot where this order needs one" in err
            assert "100, 250.5 mm" in err
        else:
            assert code == 0, err
        lines = [part["line"] for part in self.parts(made)]
        assert len(set(lines)) == len(lines)

    def test_levels_and_times_hold_for_all_relays_and_inputs(self, desk: Desk) -> None:
        [nest] = self.made(desk, RIGS["low-level boards"] | RIGS["slow relays"])["nest"]
        relays = {key: part for key, part in nest.items() if isinstance(part, dict) and "operate_s" in part}
        assert relays.keys() == {"supply", "rail_selector", "teach_contact", "load"}
        assert {part["active"] for part in relays.values()} == {"low"}
        assert {key: part["release_s"] for key, part in relays.items()} == {
            "supply": 0.03,
            "teach_contact": 0.03,
            "load": 0.03,
            "rail_selector": 0.04,
        }
        assert nest["teach_at_plus"]["active"] == nest["led"]["active"] == "low"

    def test_the_words_of_a_stage_and_the_registers_of_a_probe_are_those_of_the_manual(
        self, desk: Desk
    ) -> None:
        dialect = self.made(desk, RIGS["stage of other words"])["target"]["dialect"]
        assert (dialect["home"], dialect["refusals"], dialect["position"]) == (
            "G28.2 X0",
            ["error", "limit"],
            "POS X{mm}",
        )
        assert dialect["move"] == "G0 X{mm}"
        made = self.made(desk, RIGS["probe and code reader"] | {"name of the profile": "shop-other"})
        assert made["air"]["probe"]["humidity"] == {"address": 7, "scale": 0.1}
        assert made["code_reader"] == {"port": "/dev/serial/by-id/reader", "baud": 9600}

    def test_a_gauge_at_a_target_by_hand_is_asked_for_whole(self, desk: Desk) -> None:
        gauge = self.made(desk, RIGS["gauge by hand"])["target"]["gauge"]
        assert gauge == {
            "port": "/dev/serial/by-id/gauge",
            "baud": 19200,
            "at_zero_mm": 1600,
            "reads_inward": True,
            "error_mm": 0.05,
            "resolution_mm": 0.01,
            "lag_s": 0.05,
        }

    def test_a_line_that_works_already_is_refused_with_its_job(self, desk: Desk) -> None:
        place = 4  # name, title, back end, heartbeat line
        _, _, err = desk.new("rig", typed=[*RIG[:place], "", "", "GPIO4", "4"])
        assert err.count("GPIO4 already works as coil_supply.heartbeat; allowed: GPIO9") == 2

    def test_a_bare_number_names_a_line(self, desk: Desk) -> None:
        assert desk.made("rig", typed=[*RIG[:3], "21", *RIG])["coil_supply"]["heartbeat"] == {
            "line": "GPIO21"
        }

    @staticmethod
    def made(desk: Desk, answers: dict[str, str]) -> dict:
        asked: list[str] = []
        desk._monkeypatch.setattr("rig.cli.new.narrate", asked.append)
        desk._monkeypatch.setattr("sys.stdin", Reader(answers, asked))
        code, out, _ = desk.shop.run("new", "rig")
        assert code == 0, asked
        assert desk.shop.run("validate", out.strip())[0] == 0
        return tomllib.loads(Path(out.strip()).read_text(encoding="utf-8"))

    @staticmethod
    def parts(made: dict) -> list[dict]:
        tables = [made, made["coil_supply"], made["target"], *made["nest"]]
        found = [
            part for table in tables for part in table.values() if isinstance(part, dict) and "line" in part
        ]
        return [*found, *made["target"].get("slots", [])]
