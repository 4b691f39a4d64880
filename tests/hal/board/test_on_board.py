"""The bench's own tests, once more with the pins of a board between it and the physics."""

from __future__ import annotations

import pytest

from tests.hal import rigs
from tests.hal.board.copper import board_pins
from tests.hal.test_bench import (  # noqa: F401
    test_a_foot_switch_that_bounces_answers_once,
    test_a_trip_ends_the_waiting_for_the_person,
    test_an_error_inside_leaves_everything_off_and_goes_on,
    test_cancelling_leaves_everything_off,
    test_foot_switch_says_done,
    test_garbage_collection_does_not_silence_the_stop_button,
    test_supply_that_does_not_answer_at_the_end_does_not_keep_the_lines,
)
from tests.hal.test_heartbeat import *  # noqa: F403
from tests.hal.test_led import *  # noqa: F403
from tests.hal.test_nest import *  # noqa: F403
from tests.hal.test_readback import *  # noqa: F403
from tests.hal.test_trip import *  # noqa: F403


@pytest.fixture(autouse=True)
def on_board(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rigs, "pins_of", board_pins)


# These look inside the simulated pins, or count the loop's turns: a real edge takes one more, through its reader.
for _name in (
    "test_stop_button_turns_everything_off_in_the_callback_that_saw_it",
    "test_voltage_that_nobody_switched_trips_in_the_callback_that_saw_it",
    "test_output_that_cannot_be_written_does_not_keep_the_others",
    "test_trip_in_the_midst_of_a_beat_leaves_no_pulse",
    "test_heartbeat_that_cannot_be_written_trips",
):
    del globals()[_name]
