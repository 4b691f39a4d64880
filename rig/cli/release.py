"""`teachrig release`: puts every output of a rig to off and leaves, from whatever state."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from typing import TYPE_CHECKING

from hal.errors import BenchError
from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import open_library, read_profile

if TYPE_CHECKING:
    from hal.board.off import Outcome
    from wiring.profile import RigProfile


def command(options: Namespace) -> int:
    """Switch off; 0 when every output is off, else 3, whatever the reason: this is for a service manager."""
    try:
        profile = read_profile(options.rig, open_library())
        return _say(profile, _switch_off(profile))
    except GiveUp as end:
        raise GiveUp(Exit.BENCH_FAULT, str(end)) from None
    except (BenchError, OSError) as fault:
        check = f" {fault.check}" if isinstance(fault, BenchError) else ""
        raise GiveUp(Exit.BENCH_FAULT, f"no output was switched off: {fault}.{check}") from None


def _switch_off(profile: RigProfile) -> Sequence[Outcome]:
    if profile.back_end == "simulated":
        return ()
    from hal.board import need_bindings

    need_bindings()
    from hal.board.off import all_off

    return all_off(profile, narrate)


def _say(profile: RigProfile, outcomes: Sequence[Outcome]) -> Exit:
    if not outcomes:
        narrate(f"rig {profile.name} is simulated: there is nothing to switch off")
        return Exit.DONE
    troubled = [one for one in outcomes if one.trouble]
    for one in troubled:
        narrate(f"teachrig: {one.line.line} ({one.line.job}) is NOT known to be off: {one.trouble}")
    narrate(f"rig {profile.name}: {len(outcomes) - len(troubled)} of {len(outcomes)} outputs off")
    return Exit.BENCH_FAULT if troubled else Exit.DONE
