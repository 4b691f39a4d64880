"""`teachrig wiring`: the papers from which a rig is built, all worked out from its profile."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import open_library, read_profile
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.writing import write_file
from rig.explained.electrical import ElectricalChapter, electrical_sheet, out_of_bounds
from rig.explained.limits import Limited
from rig.papers.wiring.booklet import Imprint, wiring_papers
from rig.software import software_version
from wiring.circuit.build import circuit_of
from wiring.circuit.schedules import parts_list, pin_rows
from wiring.plainwords import printable
from wiring.profile import RigProfile


def command(options: Namespace) -> int:
    """Write the papers; exit code 1 where a value is out of bounds."""
    profile = read_profile(options.rig, open_library())
    chapters = electrical_sheet(profile)
    folder = options.out or Path(f"wiring-{profile.name}")
    imprint = Imprint(f"teachrig {software_version()}", datetime.now().astimezone().date())
    papers = wiring_papers(profile, chapters, imprint)
    _write(folder, papers, force=options.force)
    if options.json:
        print_json({**_as_dict(profile, chapters), "files": [str(folder / name) for name in papers]})
    else:
        _tell(folder, chapters)
    beyond = out_of_bounds(chapters)
    for one in beyond:
        narrate(f"out of bounds: {_told(one)}")
    return Exit.NOT_ALL_GOOD if beyond else Exit.DONE


def _write(folder: Path, papers: Mapping[str, bytes], *, force: bool) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        words = f"{printable(str(folder))} cannot be made: {error.strerror}; allowed: a folder, there or new"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    there = [name for name in papers if (folder / name).exists()]
    if there and not force:
        words = f"{printable(str(folder / there[0]))} is there already; allowed: another folder, or --force"
        raise GiveUp(Exit.BAD_INPUT, words)
    for name, content in papers.items():
        write_file(folder / name, content, force=force)
    for path in sorted(folder.glob("*.svg")):
        if path.name not in papers:
            narrate(f"note: {printable(str(path))} is of an earlier drawing; these papers have no such sheet")


def _tell(folder: Path, chapters: Iterable[ElectricalChapter]) -> None:
    page = Page()
    for chapter in chapters:
        page.heading(chapter.title)
        page.table(
            ("", "value", ">is", "limit"),
            [("+" if one.within else "x", one.worked.what, *one.as_metered()) for one in chapter.results],
        )
    page.say("")
    page.say(f"papers: {printable(str(folder))}")


def _told(one: Limited) -> str:
    worked = one.worked
    return (
        f"{worked.what}: {worked.symbol} = {worked.formula} = {worked.numbers} = {worked.result} {worked.unit}; "
        f"allowed: {one.limit} ({one.limit_source})"
    )


def _as_dict(profile: RigProfile, chapters: Iterable[ElectricalChapter]) -> dict[str, Any]:
    circuit = circuit_of(profile)
    return {
        "profile": profile.name,
        "calculation": [
            {"chapter": chapter.title, **_result(one)} for chapter in chapters for one in chapter.results
        ],
        "wires": [
            {
                "number": wire.number,
                "colour": wire.colour,
                "from": str(wire.start),
                "to": str(wire.end),
                "carries": wire.carries,
            }
            for wire in circuit.wires()
        ],
        "pins": [
            {
                "pin": row.pin,
                "line": row.carries,
                "direction": row.direction,
                "on": row.active,
                "for": row.duty,
            }
            for row in pin_rows(profile)
            if row.duty
        ],
        "parts": [
            {"count": part.count, "part": part.kind, "rating": part.rating, "names": list(part.names)}
            for part in parts_list(circuit)
        ],
    }


def _result(one: Limited) -> dict[str, Any]:
    worked = one.worked
    return {
        "what": worked.what,
        "formula": f"{worked.symbol} = {worked.formula}",
        "numbers": worked.numbers,
        "value": float(worked.result),
        "unit": worked.unit,
        "least": one.least,
        "most": one.most,
        "within": one.within,
        "limit_source": one.limit_source,
        "sources": {name: number.source for name, number in worked.inputs},
    }
