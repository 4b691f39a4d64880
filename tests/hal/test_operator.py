import asyncio

import pytest

from hal.errors import NoAnswer
from hal.operator import NumberRange, Operator, Request, RequestKind
from hal.simulated.clock import run

COVER = Request(RequestKind.COVER_FACE, "hold the target to the face")
READ = Request(RequestKind.READ_SCALE, "read the scale", number=NumberRange(380.0, 420.0))
CLEAR = Request(RequestKind.CLEAR_BEAM, "clear the beam")


def test_asking_ends_with_done() -> None:
    async def main() -> None:
        operator = Operator()
        shown: list[Request] = []
        operator.on_request.append(shown.append)
        loop = asyncio.get_running_loop()
        loop.call_later(2.0, operator.done)
        await operator.ask(COVER)
        assert loop.time() == pytest.approx(2.0)
        assert shown == [COVER]
        assert operator.request is None

    run(main())


def test_done_before_anything_is_asked_answers_nothing() -> None:
    async def main() -> None:
        operator = Operator()
        operator.done()
        with pytest.raises(NoAnswer, match="within 5 s to: hold the target"):
            await operator.ask(COVER, timeout_s=5.0)
        operator.done()
        with pytest.raises(NoAnswer):
            await operator.ask(COVER, timeout_s=5.0)

    run(main())


def test_two_nests_take_turns() -> None:
    async def main() -> None:
        operator = Operator()
        shown: list[Request] = []
        operator.on_request.append(shown.append)
        asked = [asyncio.ensure_future(operator.ask(request)) for request in (COVER, CLEAR)]
        await asyncio.sleep(1.0)
        assert shown == [COVER]
        operator.done()
        operator.done()  # a second tap is not an answer to what is shown next
        await asyncio.sleep(1.0)
        assert shown == [COVER, CLEAR]
        assert [task.done() for task in asked] == [True, False]
        operator.give_up(NoAnswer("gone home"))
        operator.give_up(NoAnswer("gone home"))
        with pytest.raises(NoAnswer, match="gone home"):
            await asked[1]

    run(main())


def test_giving_up_when_nothing_is_asked_is_harmless() -> None:
    Operator().give_up(NoAnswer("nobody asked"))


def typing(operator: Operator, *numbers: float) -> list[str]:
    """Type a number at each request, one second after it is shown; the texts that were shown."""
    left, shown = list(numbers), []

    def answer(request: Request) -> None:
        shown.append(request.text)
        if left:
            asyncio.get_running_loop().call_later(1.0, operator.number, left.pop(0))

    operator.on_request.append(answer)
    return shown


def test_a_number_answers_what_asks_for_one_and_done_does_not() -> None:
    async def main() -> float:
        operator = Operator()
        loop = asyncio.get_running_loop()
        loop.call_later(1.0, operator.done)
        loop.call_later(2.0, operator.number, 398.5)
        return await operator.ask_number(READ)

    assert run(main()) == 398.5


def test_a_number_is_no_done() -> None:
    async def main() -> None:
        operator = Operator()
        operator.number(1.0)
        typing(operator, 398.5)
        with pytest.raises(NoAnswer):
            await operator.ask(COVER, timeout_s=5.0)

    run(main())


@pytest.mark.parametrize("slip", [39.85, 379.9, 420.1, float("nan"), float("inf")])
def test_a_number_that_cannot_be_is_asked_for_again_and_named(slip: float) -> None:
    async def main() -> tuple[float, list[str]]:
        operator = Operator()
        shown = typing(operator, slip, 398.5)
        return await operator.ask_number(READ), shown

    number, shown = run(main())
    assert number == 398.5
    assert shown == ["read the scale", f"{slip:g} mm cannot be: read the scale"]


def test_nobody_is_asked_for_a_number_for_ever() -> None:
    async def main() -> list[str]:
        operator = Operator()
        shown = typing(operator, *[1.0] * 99)
        with pytest.raises(NoAnswer, match="5 numbers, none of them 380 to 420 mm, to: read the scale"):
            await operator.ask_number(READ)
        return shown

    assert len(run(main())) == 5


def test_silence_and_a_trip_end_the_wait_for_a_number() -> None:
    async def main() -> None:
        operator = Operator()
        with pytest.raises(NoAnswer, match="within 5 s"):
            await operator.ask_number(READ, timeout_s=5.0)
        asyncio.get_running_loop().call_later(1.0, operator.give_up, NoAnswer("tripped"))
        with pytest.raises(NoAnswer, match="tripped"):
            await operator.ask_number(READ, timeout_s=5.0)
        assert operator.request is None

    run(main())
