"""The simulated person says done only when the LED really shows what the request names."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from hal.errors import NoAnswer
from hal.operator import Operator, Request, RequestKind
from hal.simulated.clock import run
from tests.hal.simulated.hands import Hands, bench_file
from wiring.profile import find_profile, load_profile

# Without a foot switch 'done' comes from a key: nothing else has to be simulated here.
DESK = load_profile(find_profile("simulated")).model_copy(update={"foot_switch": None})


def answer_s(words: str, show: str, *, timeout_s: float = 6.0) -> float | None:
    """How long the person takes to see `words` while the LED does `show`; None when they never do."""

    async def main() -> float | None:
        hands = Hands(bench_file(), DESK)
        operator = Operator()
        hands.bench.person.attach(operator)
        unit = hands.bench.next_unit()
        assert unit is not None
        with hands.world.timeline:
            for name, argument in _plays(show):
                getattr(unit.led, name)(argument)
        began_s = hands.loop.time()
        text = f"Say done as soon as the LED in nest A shows {words}."
        try:
            await operator.ask(Request(RequestKind.CONFIRM, text), timeout_s=timeout_s)
        except NoAnswer:
            return None
        return hands.loop.time() - began_s

    return run(main())


def _plays(show: str) -> Iterator[tuple[str, object]]:
    kind, _, figure = show.partition(" ")
    yield {
        "steady": ("follow", True),
        "dark": ("follow", False),
        "flashing": ("flash", float(figure or 0)),
        "blinks": ("blink", int(float(figure or 0))),
    }[kind]


SHOWN = {
    "steady": "steady",
    "dark": "dark",
    "flashing 2 Hz": "flashing 2",
    "flashing 5 Hz": "flashing 5",
    "flashing 8 Hz": "flashing 8",
    "1 blink": "blinks 1",
    "2 blinks": "blinks 2",
    "5 blinks": "blinks 5",
}


@pytest.mark.parametrize("shown", SHOWN)
@pytest.mark.parametrize("asked", SHOWN)
def test_done_comes_for_what_was_asked_and_for_nothing_else(asked: str, shown: str) -> None:
    # Blinks end in the dark, so whoever is asked for dark will see it then.
    expected = asked == shown or (asked == "dark" and "blink" in shown)
    assert (answer_s(asked, SHOWN[shown]) is not None) is expected


def test_a_person_needs_time_to_see() -> None:
    took_s = answer_s("flashing 2 Hz", "flashing 2")
    assert took_s is not None
    assert 1.0 < took_s < 2.5


def test_a_request_that_names_no_sign_is_done_at_once() -> None:
    took_s = answer_s("nothing in particular", "dark")
    assert took_s is not None
    assert took_s < 2.0


def test_a_nest_without_a_unit_shows_dark() -> None:
    async def main() -> None:
        hands = Hands(bench_file(), DESK)
        operator = Operator()
        hands.bench.person.attach(operator)
        text = "Say done as soon as the LED in nest A shows dark."
        await operator.ask(Request(RequestKind.CONFIRM, text), timeout_s=5.0)

    run(main())
