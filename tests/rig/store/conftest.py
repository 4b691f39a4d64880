"""What the tests of the store share: a shift's events, and a PostgreSQL with a database that is new for each test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from rig.store.shop import open_shop
from tests.postgres import Server, server
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through


@pytest.fixture(scope="session")
def shift() -> Shift:
    return work_through(SETTINGS["18 point"], units=3)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    with server() as one:
        yield one


@pytest.fixture
def url(postgres: Server) -> Iterator[str]:
    with postgres.database("shop_test") as url:
        yield url


@pytest.fixture
def shop(url: str) -> Iterator[Engine]:
    engine = open_shop(url)
    yield engine
    engine.dispose()
