"""The GPIO chips of this board, and where on them the lines of a rig profile are."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import gpiod

from hal.board.errors import BoardMissing, LinesMissing, os_words
from wiring.gpio import GpioProfile, LineElsewhere
from wiring.plainwords import key_text
from wiring.profile import RigLine, RigProfile

DEVICES = Path("/dev")


@dataclass(frozen=True, slots=True)
class GpioChip:
    """One GPIO chip: its device file, what the kernel calls it, and the names of its lines by number."""

    path: str
    name: str
    label: str
    names: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.name} [{self.label}]"


@dataclass(frozen=True, slots=True)
class Place:
    """Where a line is: its chip, and its number there."""

    chip: GpioChip
    number: int

    def __str__(self) -> str:
        return f"line {self.number} of {self.chip}"


def find_chips() -> tuple[GpioChip, ...]:
    """Every GPIO chip that may be opened here.

    Raises:
        BoardMissing: when there is none, or none that this user may open.

    """
    paths = {path.resolve(): path for path in sorted(DEVICES.glob("gpiochip*"), reverse=True)}
    if not paths:
        raise BoardMissing(f"this machine has no GPIO to drive (there is no {DEVICES}/gpiochip0)")
    chips, refused = [], []
    for path in sorted(paths):
        try:
            chips.append(_read_chip(str(path)))
        except OSError as fault:
            refused.append((path, fault))
    if not chips:
        raise _cannot_open(*refused[0])
    return tuple(chips)


def find_places(profile: RigProfile) -> dict[str, Place]:
    """Where each line of the profile is on this board.

    Raises:
        BoardMissing: when there is no GPIO chip.
        LinesMissing: naming the key of every line that is not there, or of which there are several.

    """
    places, problems = look_for_places(profile, find_chips())
    if problems:
        raise LinesMissing("; ".join(problems))
    return places


def look_for_places(profile: RigProfile, chips: Sequence[GpioChip]) -> tuple[dict[str, Place], list[str]]:
    """Where those lines of the profile are that can be found, and what is wrong with the others."""
    elsewhere = {told.line: told for told in profile.gpio.elsewhere}
    places: dict[str, Place] = {}
    problems = []
    for line in profile.lines():
        found = tuple(_places_of(line.line, profile.gpio, elsewhere.get(line.line), chips))
        if len(found) == 1:
            places[line.line] = found[0]
        else:
            problems.append(_problem(line, found, profile.gpio, chips))
    return places, [*problems, *_two_lines_at_one_place(profile.lines(), places)]


def _read_chip(path: str) -> GpioChip:
    with gpiod.Chip(path) as chip:
        info = chip.get_info()
        names = tuple(chip.get_line_info(number).name or "" for number in range(info.num_lines))
        return GpioChip(path, info.name, info.label, names)


def _places_of(
    line: str, gpio: GpioProfile, told: LineElsewhere | None, chips: Sequence[GpioChip]
) -> Iterator[Place]:
    label = (told and told.chip) or gpio.chip
    name: str | None = line
    number: int | None = None
    if told is not None:
        name, number = told.name, told.number
    elif gpio.find == "by-number":
        name, number = None, int(line.removeprefix("GPIO"))
    for chip in chips:
        if label not in (None, chip.label, chip.name):
            continue
        if number is not None and number < len(chip.names):
            yield Place(chip, number)
        yield from (
            Place(chip, at) for at, known in enumerate(chip.names) if name is not None and known == name
        )


def _problem(line: RigLine, found: Sequence[Place], gpio: GpioProfile, chips: Sequence[GpioChip]) -> str:
    key = key_text((*line.path, "line"))
    if found:
        where = " and ".join(map(str, found))
        return f"{key} = {line.line}: there are several, {where}; name the chip in the rig profile, gpio.chip"
    listed = ", ".join(map(str, chips))
    if gpio.chip is not None and not any(gpio.chip in (chip.label, chip.name) for chip in chips):
        return f"{key} = {line.line}: gpio.chip = {gpio.chip!r} is not here; this board has {listed}"
    return f"{key} = {line.line}: no such line on {listed}"


def _two_lines_at_one_place(lines: Sequence[RigLine], places: dict[str, Place]) -> Iterator[str]:
    first: dict[Place, str] = {}
    for line in lines:
        place = places.get(line.line)
        if place is not None and first.setdefault(place, line.line) != line.line:
            yield f"{key_text((*line.path, 'line'))} = {line.line} is {place}, as is {first[place]}"


def _cannot_open(path: Path, fault: OSError) -> BoardMissing:
    if not isinstance(fault, PermissionError):
        return BoardMissing(f"{path} cannot be opened: {os_words(fault)}")
    group = _group_of(path)
    return BoardMissing(
        f"no permission to open {path}",
        check=f"Add this user to the group {group} (usermod -aG {group} USER) and log in again; root is never needed.",
    )


def _group_of(path: Path) -> str:
    import grp

    try:
        return grp.getgrgid(os.stat(path).st_gid).gr_name
    except (KeyError, OSError):
        return "gpio"
