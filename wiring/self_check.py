"""What a rig demands of its self-check before units are taught on it."""

from __future__ import annotations

from enum import StrEnum

from pydantic import Field

from wiring.tomlfile import DataModel


class SelfCheckNeed(StrEnum):
    """When a self-check has to have passed; a failed one counts until the next, but for `never`."""

    DAILY = "daily"
    ADVISED = "advised"
    NEVER = "never"


class SelfCheckPolicy(DataModel):
    """How strict a board is about its self-check; the simulated bench never needs one."""

    needed: SelfCheckNeed = Field(
        SelfCheckNeed.ADVISED,
        description="daily: no teaching unless it has passed today; advised: none after a failed one, a note if "
        "there was none today; never: not asked for",
    )
