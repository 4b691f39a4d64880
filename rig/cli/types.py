"""`teachrig types`: the sensor types that are known, what each can do, and where its file comes from."""

from __future__ import annotations

import shutil
import textwrap
from argparse import Namespace
from pathlib import Path
from typing import Any

from rig.cli.exits import Exit, narrate
from rig.cli.inputs import open_library, read_or_give_up
from rig.cli.json_text import print_json
from rig.library import Entry, Library, Section
from sequences.sensor_type import SensorType
from sequences.spoken import METHOD_WORDS, compensation_words, offered_words, sheet, steps_in_words
from wiring.plainwords import printable
from wiring.tomlfile import DataFileError

_LABEL_WIDTH = 17
_WIDEST = 100


def command(options: Namespace) -> int:
    """List the sensor types, or show one of them in full."""
    # The listing itself says which files are the user's own, so the library need not tell.
    library = Library(open_library().home)
    entries = read_or_give_up(lambda: library.entries(Section.TYPES))
    if options.name is None:
        return _list([(entry, _read(entry, library)) for entry in entries.values()], as_json=options.json)
    entry = entries.get(options.name) or Entry(options.name, Path(options.name), own=True, hides=False)
    sensor_type = read_or_give_up(lambda: library.read_type(options.name))
    if options.json:
        in_full = {**_origin_as_dict(entry), "type": sensor_type.model_dump(mode="json")}
        print_json(in_full)
    else:
        _print_sheet(entry, sensor_type)
    return Exit.DONE


def _read(entry: Entry, library: Library) -> SensorType | DataFileError:
    try:
        return library.read_type(entry.name)
    except DataFileError as error:
        return error


def _list(known: list[tuple[Entry, SensorType | DataFileError]], *, as_json: bool) -> int:
    broken = [(entry, read) for entry, read in known if isinstance(read, DataFileError)]
    if as_json:
        print_json([_as_dict(*one) for one in known])
    else:
        print("\n\n".join(_brief(*one) for one in known))
    for entry, error in broken:
        narrate(f"{error.problems[0]}{_more(entry, len(error.problems) - 1)}")
    return Exit.BAD_INPUT if broken else Exit.DONE


def _more(entry: Entry, problems: int) -> str:
    return f"\n... and {problems} more: teachrig types {printable(entry.name)}" if problems else ""


def _brief(entry: Entry, read: SensorType | DataFileError) -> str:
    origin = f"\n  {_origin(entry)}" if entry.own else ""
    if isinstance(read, DataFileError):
        return f"{printable(entry.name)}: cannot be used as it is{origin}"
    span = f"{read.sensing.blind_zone_mm:g} to {read.sensing.range_mm:g} mm"
    outputs = " or ".join(read.output.types)
    return (
        f"{read.name}: {read.title}\n"
        f"  {span}, {compensation_words(read.sensing)}, {outputs}{'' if entry.own else '; shipped'}\n"
        f"  taught {METHOD_WORDS[read.teach_method]}: {offered_words(read)}{origin}"
    )


def _origin(entry: Entry) -> str:
    if not entry.own:
        return "shipped with teachrig"
    hides = ", not the shipped one" if entry.hides else ""
    return f"your own file {printable(str(entry.path))}{hides}"


def _print_sheet(entry: Entry, sensor_type: SensorType) -> None:
    print(f"{sensor_type.name}: {sensor_type.title}\n{_origin(entry)}")
    for heading, rows in sheet(sensor_type):
        print(f"\n{heading}")
        for label, words in rows:
            print(_hanging(label, words))
    for sequence in sensor_type.sequence:
        print(f"\nto teach {sequence.mode} {sequence.taught_function}")
        for number, words in enumerate(steps_in_words(sequence.steps, sensor_type), start=1):
            print(f"  {number}. {words}")
    if sensor_type.notes:
        print(f"\nnotes\n{textwrap.indent(sensor_type.notes.strip(), '  ')}")


def _hanging(label: str, words: str) -> str:
    width = min(shutil.get_terminal_size().columns, _WIDEST)
    start = f"  {label:<{_LABEL_WIDTH}}"
    return textwrap.fill(words, width, initial_indent=start, subsequent_indent=" " * len(start))


def _origin_as_dict(entry: Entry) -> dict[str, Any]:
    source = "own" if entry.own else "shipped"
    return {"file": str(entry.path), "source": source, "hides_shipped": entry.hides}


def _as_dict(entry: Entry, read: SensorType | DataFileError) -> dict[str, Any]:
    origin = {"name": entry.name, **_origin_as_dict(entry)}
    if isinstance(read, DataFileError):
        return {**origin, "problems": [str(problem) for problem in read.problems]}
    return {
        **origin,
        "problems": [],
        "title": read.title,
        "blind_zone_mm": read.sensing.blind_zone_mm,
        "range_mm": read.sensing.range_mm,
        "temperature_compensated": read.sensing.temperature_compensated,
        "output_types": list(read.output.types),
        "teach_method": read.teach_method,
        "teaches": [{"mode": mode, "output_function": function} for mode, function in read.offered],
    }
