import asyncio

import pytest

from hal.errors import NoAnswer
from hal.operator import Operator, Request, RequestKind
from hal.simulated.clock import run

COVER = Request(RequestKind.COVER_FACE, "hold the target to the face")
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
