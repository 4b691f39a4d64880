"""Sends a PDF to a printer through the system's printing (CUPS), at its true size."""

from __future__ import annotations

import shutil
import subprocess

from wiring.plainwords import printable

_PATIENCE_S = 30.0


class NotPrinted(Exception):
    """The PDF did not go to a printer; the text says why and what to do."""


def print_pdf(pdf: bytes, title: str, page_mm: tuple[float, float], printer: str) -> str:
    """Hand a PDF to `lp`, for the default printer if `printer` is empty; returns what `lp` says.

    Raises NotPrinted.
    """
    lp = shutil.which("lp")
    if lp is None:
        raise NotPrinted("this system has no printing (CUPS, the command lp)")
    chosen = ["-d", printer] if printer else []
    # A label that is scaled to fit has neither its size nor whole dots in its code.
    options = ["-o", f"media={_media(page_mm)}", "-o", "print-scaling=none"]
    try:
        ran = subprocess.run(
            [lp, *chosen, "-t", title, *options, "-"],
            input=pdf,
            capture_output=True,
            timeout=_PATIENCE_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired) as failure:
        raise NotPrinted(f"lp did not take it: {printable(str(failure))}") from None
    if ran.returncode:
        said = printable(ran.stderr.decode(errors="replace").strip())
        raise NotPrinted(
            f"lp did not take it: {said or f'exit code {ran.returncode}'}; lpstat -p -d tells which printers there are"
        )
    return printable(ran.stdout.decode(errors="replace").strip())


def _media(page_mm: tuple[float, float]) -> str:
    """A page size as CUPS names it."""
    named = {(210.0, 297.0): "A4", (215.9, 279.4): "Letter"}
    width_mm, height_mm = page_mm
    return named.get(page_mm, f"Custom.{width_mm:g}x{height_mm:g}mm")
