"""Takes the pictures of the README from live runs on simulated benches: `python -m rig.screen.photograph`."""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import tempfile
from pathlib import Path

from rig.library import Library
from rig.screen.app import BenchApp
from rig.screen.looks import LOOKS
from rig.screen.poses import PICTURES, Picture, Sitter
from rig.screen.setup import Bench, practice
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME

FOLDER = Path(__file__).parent / "pictures"


async def photograph(picture: Picture, home: Path) -> str:
    """One picture as SVG, with `home` for the record."""
    words = Words(picture.language)
    holds = home / "holds.toml"
    holds.write_text(f'title = "units for a picture"\nendless = true\n{picture.holds}', encoding="utf-8")
    library = Library(home)
    profile = library.read_rig("simulated")
    bench = Bench(
        library, profile, str(holds), home / JOURNAL_NAME, quickest_s=0.0, real_time=picture.real_time
    )
    app = BenchApp(words, LOOKS[picture.look], bench)
    if picture.order == "practice":
        app.first = OrderWork(practice(library, 1.0), words)
    elif picture.order is not None:
        app.first = OrderWork(bench.order(picture.order), words)
    async with app.run_test(size=picture.size) as pilot:
        await pilot.pause(0.3)
        try:
            await picture.pose(Sitter(app, pilot))
            await pilot.pause(0.3)
            return _without_web_fonts(app.export_screenshot(title="teachrig bench"))
        finally:
            app.end_work("the picture is taken")


def _without_web_fonts(svg: str) -> str:
    svg = re.sub(r"@font-face\s*\{[^}]*\}\s*", "", svg)
    return svg.replace("Fira Code", "DejaVu Sans Mono, Menlo, Consolas")


def main(arguments: list[str] | None = None) -> int:
    """Take the pictures that were named, or all."""
    names = [picture.name for picture in PICTURES]
    parser = argparse.ArgumentParser(prog="python -m rig.screen.photograph", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"which (default: all): {', '.join(names)}")
    parser.add_argument("--out", type=Path, default=FOLDER, metavar="DIR", help="folder for the pictures")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    for picture in PICTURES:
        if not options.names or picture.name in options.names:
            os.environ.pop("NO_COLOR", None)
            if picture.look == "plain":
                os.environ["NO_COLOR"] = "1"
            with tempfile.TemporaryDirectory() as home:
                svg = asyncio.run(photograph(picture, Path(home)))
            (options.out / f"{picture.name}.svg").write_text(svg, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
