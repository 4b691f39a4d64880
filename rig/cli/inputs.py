"""Reads what a command was given; bad input ends in one clear message and exit code 2."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from rig.cli.exits import Exit, GiveUp, narrate
from rig.library import Library, user_folder
from wiring.plainwords import printable
from wiring.tomlfile import DataFileError

if TYPE_CHECKING:
    from hal.simulated.benchfile import BenchFile
    from rig.control.gate import Leave
    from rig.events import PersonSignedIn
    from rig.planning.plan import Plan
    from sequences.order import Order
    from sequences.sensor_type import SensorType
    from wiring.profile import RigProfile
    from wiring.terms import OutputType

_T = TypeVar("_T")


def read_or_give_up(read: Callable[[], _T]) -> _T:
    """Call `read`; a problem with a data file becomes bad input."""
    try:
        return read()
    except DataFileError as problems:
        raise GiveUp(Exit.BAD_INPUT, str(problems)) from None


def open_library() -> Library:
    """The user's own files and the shipped ones; says on standard error where one hides the other."""
    return Library(read_or_give_up(user_folder), tell=lambda words: narrate(f"note: {words}"))


def read_order(name_or_path: str, library: Library) -> tuple[Order, SensorType]:
    """The order and the sensor type that it names."""
    return read_or_give_up(lambda: library.read_order(name_or_path))


def read_profile(name_or_path: str | None, library: Library) -> RigProfile:
    """The rig profile; the simulated bench where none is named."""
    return read_or_give_up(lambda: library.read_rig(name_or_path or "simulated"))


def plan_or_give_up(order: Order, sensor_type: SensorType, profile: RigProfile) -> Plan:
    """The plan; a refusal is bad input, with every reason."""
    from rig.planning.compile import make_plan
    from rig.planning.refusal import PlanRefused

    try:
        return make_plan(order, sensor_type, profile)
    except PlanRefused as refused:
        raise GiveUp(Exit.BAD_INPUT, f"order {order.number} cannot be done:\n{refused}") from None


def in_measured_air(profile: RigProfile, bench_file: BenchFile | None) -> RigProfile:
    """The rig in the air that its probe measures now, told to the user; as it is where none is fitted.

    A silent probe is a bench fault.
    """
    if profile.air.probe is None:
        return profile
    from hal.errors import BenchError
    from rig import air_now

    try:
        rig = air_now.in_measured_air(profile, bench_file)
    except BenchError as fault:
        raise GiveUp(Exit.BENCH_FAULT, f"{fault}. {fault.check}") from None
    narrate(f"air by the probe: {rig.air.temperature_c:.1f} °C, {rig.air.humidity_percent:.0f} %")
    return rig


def read_bench(
    options: Namespace,
    profile: RigProfile,
    library: Library,
    kind: str,
    output_type: OutputType | None = None,
) -> BenchFile | None:
    """What the simulated bench holds, units of `kind` where its file names none; None on a board."""
    if profile.back_end != "simulated":
        if options.bench or options.real_time:
            raise GiveUp(
                Exit.BAD_INPUT,
                f"--bench and --real-time belong to the simulated bench; {profile.name} is a board (given "
                f"--rig {options.rig}); allowed: --rig simulated, or leave them out",
            )
        return None
    bench_file = read_or_give_up(lambda: library.read_bench(options.bench or "sound"))
    try:
        return bench_file.as_ordered(kind, output_type)
    except ValueError as misfit:
        raise GiveUp(Exit.BAD_INPUT, f"{options.bench or 'sound'}: {misfit}") from None


_ANY_KIND = "barrel-18-rail"
"""Of what the units are that lie ready at a simulated bench on which none is taught."""


def sound_bench(profile: RigProfile, library: Library) -> BenchFile | None:
    """The sound simulated bench, to ask an instrument of; None on a board."""
    if profile.back_end != "simulated":
        return None
    return read_or_give_up(lambda: library.read_bench("sound")).as_ordered(_ANY_KIND)


def bare_bench(options: Namespace, profile: RigProfile, library: Library) -> BenchFile | None:
    """The simulated bench for work on the rig itself, said aloud; None on a board."""
    bench_file = read_bench(options, profile, library, _ANY_KIND)
    if bench_file is not None:
        narrate("SIMULATED BENCH: no hardware is touched.")
    return bench_file


def as_calibrated_or_give_up(profile: RigProfile, journal: Path) -> RigProfile:
    """The rig with the doubt that its calibration leaves, told to the user; as it is without one that holds."""
    from datetime import datetime

    from rig.calibration.using import as_calibrated, outside
    from rig.journal import JournalError

    today = datetime.now().astimezone().date()
    try:
        rig, why = as_calibrated(profile, journal, today), outside(profile, journal, today)
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    if why:
        narrate(f"note: outside its calibration: {why}")
    left = rig.target.calibrated
    if left is not None:
        narrate(
            f"distances by calibration: zero within {left.zero_u_mm:.3f} mm, scale within {left.scale_u_percent:.4f} % "
            "(standard uncertainties)"
        )
    return rig


def within_calibration_or_give_up(order: Order, profile: RigProfile, journal: Path) -> None:
    """Refuse an order that needs a calibrated rig on one that is not."""
    from datetime import datetime

    from rig.calibration.using import refusal_by_calibration
    from rig.journal import JournalError

    try:
        words = refusal_by_calibration(order, profile, journal, datetime.now().astimezone().date())
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    if words:
        raise GiveUp(Exit.BENCH_FAULT, words)


def in_control_or_give_up(profile: RigProfile, journal: Path, order: Order | None = None) -> Leave:
    """Refuse work on a rig whose check unit gave a signal, or was not measured in a shift where it has to be."""
    from datetime import datetime

    from rig.control.gate import leave_of
    from rig.control.history import account_in
    from rig.journal import JournalError
    from sequences.checks import CheckUnitNeed

    needed = order is not None and order.checks.check_unit is CheckUnitNeed.NEEDED
    try:
        account = account_in(journal, profile.name)
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    leave = leave_of(profile, account, datetime.now().astimezone(), needed=needed)
    if leave.refusal:
        raise GiveUp(Exit.BENCH_FAULT, leave.refusal)
    if leave.warning:
        narrate(f"note: {leave.warning}")
    return leave


def data_folder(given: Path | None) -> Path:
    """Where the records go: as given, else TEACHRIG_DATA, else the user's data folder; gives up on what is no name."""
    from platformdirs import user_data_path

    chosen = given or (Path(os.environ["TEACHRIG_DATA"]) if os.environ.get("TEACHRIG_DATA") else None)
    folder = chosen or user_data_path("teachrig", appauthor=False)
    try:
        folder.exists()
    except OSError as failure:
        words = f"{printable(str(folder), 60)}: no records can be kept there ({failure.strerror})"
        raise GiveUp(Exit.BAD_INPUT, f"{words}; allowed: a folder, made if absent") from None
    return folder


def may_teach_or_give_up(profile: RigProfile, journal: Path) -> None:
    """Hold the last self-check of a board against what its profile demands; a note where that is all."""
    if profile.back_end == "simulated":
        return
    from datetime import datetime

    from rig.journal import JournalError
    from rig.selfcheck.gate import standing_of
    from rig.selfcheck.history import last_check

    try:
        last = last_check(journal, profile.name)
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None
    standing = standing_of(profile, last, datetime.now().astimezone().date())
    if standing.refusal:
        raise GiveUp(Exit.BENCH_FAULT, standing.refusal)
    if standing.warning:
        narrate(f"note: {standing.warning}")


def signed_in_by(name: str | None) -> PersonSignedIn | None:
    """Who is said to work at the bench; None if nobody is named."""
    if name is None:
        return None
    from rig.events import PersonSignedIn

    return PersonSignedIn(person_named("--by", name), "command line")


def person_named(option: str, name: str) -> str:
    """A person's name as it was typed or scanned."""
    from rig.typed import typed_name

    try:
        return typed_name(name)
    except ValueError as wrong:
        raise GiveUp(Exit.BAD_INPUT, f"{option}: {wrong}") from None
