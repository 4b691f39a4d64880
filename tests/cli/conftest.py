"""The shop that nearly every test of a command works in."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.shop import Shop, opened_elsewhere
from tests.cli.typist import Desk


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    """Files in `home`, records in `data`, and the user stands in `here`."""
    return opened_elsewhere(tmp_path, monkeypatch, capsys)


@pytest.fixture
def desk(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Desk:
    """The same with somebody who answers questions."""
    return Desk(shop, monkeypatch)
