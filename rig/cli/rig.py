"""`teachrig rig`: the lines of a rig one by one as they are, and which program holds them; nothing is switched."""

from __future__ import annotations

from argparse import Namespace
from typing import TYPE_CHECKING, Any

from hal.board import BoardMissing, need_bindings
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import open_library, read_profile
from rig.cli.json_text import print_json
from rig.cli.layout import Page

if TYPE_CHECKING:
    from hal.board.chips import GpioChip
    from hal.board.seen import LineSeen
    from wiring.profile import RigLine, RigProfile

_LEVELS = ("low", "high")
_ON = {True: "on", False: "off", None: ""}


def command(options: Namespace) -> int:
    """Show the lines."""
    profile = read_profile(options.rig, open_library())
    chips: tuple[GpioChip, ...] = ()
    seen: tuple[LineSeen, ...] = ()
    problems: list[str] = []
    if profile.back_end == "simulated":
        narrate("SIMULATED BENCH: its lines are there only while it runs.")
    else:
        chips, seen, problems = _look(profile)
    with reader_may_leave():
        if options.json:
            print_json(_as_dict(profile, chips, seen))
        else:
            _print(profile, chips, seen)
    for words in (*problems, *_left_on(seen)):
        narrate(f"teachrig: {words}")
    return Exit.BENCH_FAULT if problems else Exit.DONE


def _look(profile: RigProfile) -> tuple[tuple[GpioChip, ...], tuple[LineSeen, ...], list[str]]:
    try:
        need_bindings()
        from hal.board.chips import find_chips, look_for_places
        from hal.board.seen import look

        chips = find_chips()
    except BoardMissing as missing:
        raise GiveUp(Exit.BENCH_FAULT, f"{missing}. {missing.check}") from None
    places, problems = look_for_places(profile, chips)
    return chips, look(profile, places), problems


def _left_on(seen: tuple[LineSeen, ...]) -> list[str]:
    lines = [f"{one.line.line} ({one.line.job})" for one in seen if one.left_on]
    words = "driven on though no program holds it; `teachrig release` puts every output to off"
    return [f"{', '.join(lines)}: {words}"] if lines else []


def _print(profile: RigProfile, chips: tuple[GpioChip, ...], seen: tuple[LineSeen, ...]) -> None:
    page = Page()
    page.say(f"rig {profile.name}: {profile.title}")
    for chip in chips:
        page.say(f"chip {chip}, {len(chip.names)} lines")
    page.heading("lines")
    by_line = {one.line.line: one for one in seen}
    rows = [_row(line, by_line.get(line.line)) for line in profile.lines()]
    columns = ("line", "job", "", "is at", "level", "means", "held by")
    page.table(columns, rows)


def _row(line: RigLine, one: LineSeen | None) -> tuple[str, ...]:
    way = "out" if line.is_output else "in"
    if one is None:
        return line.line, line.job, way, "", "", f"{line.active} = on", ""
    level = "" if one.seen.level is None else _LEVELS[one.seen.level]
    where = f"{one.place.chip.name} {one.place.number}"
    return line.line, line.job, way, where, level, _ON[one.on], one.seen.holder or "nobody"


def _as_dict(profile: RigProfile, chips: tuple[GpioChip, ...], seen: tuple[LineSeen, ...]) -> dict[str, Any]:
    by_line = {one.line.line: one for one in seen}
    return {
        "rig": profile.name,
        "chips": [{"name": chip.name, "label": chip.label, "lines": len(chip.names)} for chip in chips],
        "lines": [_line_as_dict(line, by_line.get(line.line)) for line in profile.lines()],
    }


def _line_as_dict(line: RigLine, one: LineSeen | None) -> dict[str, Any]:
    told: dict[str, Any] = {
        "line": line.line,
        "job": line.job,
        "meaning": line.meaning,
        "output": line.is_output,
        "active": line.active,
    }
    if one is None:
        return told
    return told | {
        "chip": one.place.chip.name,
        "number": one.place.number,
        "driven": one.seen.is_output,
        "level": None if one.seen.level is None else _LEVELS[one.seen.level],
        "on": one.on,
        "held_by": one.seen.holder,
    }
