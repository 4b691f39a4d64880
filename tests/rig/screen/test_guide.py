"""The user guide: it shows what is there, and names the keys as they are."""

from __future__ import annotations

import re
from pathlib import Path

import rig.screen
from rig.screen.poses import PICTURES
from rig.screen.view.commands import COMMANDS

ROOM = Path(rig.screen.__file__).parent
GUIDE = (ROOM / "GUIDE.md").read_text(encoding="utf-8")


def test_it_shows_every_picture_that_is_taken_and_no_other() -> None:
    taken = {f"{picture.name}.svg" for picture in PICTURES}
    assert set(re.findall(r"\(pictures/([a-z-]+\.svg)\)", GUIDE)) == taken
    assert {path.name for path in (ROOM / "pictures").iterdir()} == taken


def test_it_names_every_key() -> None:
    assert [one.shown for one in COMMANDS.values() if not re.search(rf"\b{one.shown}\b", GUIDE)] == []
