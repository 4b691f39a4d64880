"""What a sampling plan achieves, drawn on a terminal: chance of acceptance, bad units left, effort."""

from __future__ import annotations

import sys

from rich.text import Text

from rig.cli.curveplot import Curve, beside, curve_lines
from rig.cli.layout import Page
from rig.sampling.curve import outgoing_limit
from rig.sampling.designed import Designed, Row
from rig.sampling.sequential import SequentialPlan

_TALL, _LOW = 10, 6
_MARGIN, _GAP = 10, 3
_COLOUR = "cyan"
_FILLED = "[\u2588\u2584]+"


def print_curves(designed: Designed, page: Page) -> None:
    """Draw them, as wide as the page is."""
    wide, narrow = page.width - _MARGIN, (page.width - _GAP) // 2 - _MARGIN
    page.lines([""])
    _draw(curve_lines(_accepted(designed, wide), _TALL, plain=_plain()), page)
    # The two share a row; one alone has it to itself.
    both = designed.lot_size is not None and not designed.isolated
    rows = _spread(designed, narrow if both else wide)
    below = [
        curve_lines(curve, _LOW, plain=_plain())
        for curve in (_outgoing(designed, rows), _effort(designed, rows))
        if curve is not None
    ]
    if below:
        page.lines([""])
        _draw(beside(below[0], below[1], _GAP) if both else below[0], page)


def _draw(lines: list[str], page: Page) -> None:
    title, *drawn = (Text(line) for line in lines)
    title.stylize("bold")
    for line in drawn:
        line.highlight_regex(_FILLED, _COLOUR)
    page.lines([title, *drawn])


def _accepted(designed: Designed, columns: int) -> Curve:
    heights = [row.accepted for row in _spread(designed, columns)]
    return Curve(
        f"chance that a lot is accepted, by percent bad{_marked(designed)}",
        heights,
        1.0,
        _percent_label,
        _ends(designed),
        tuple(share / designed.worst for share in designed.asked),
    )


def _marked(designed: Designed) -> str:
    if designed.standard is not None:
        return " (^ the AQL)"
    return (
        f" (^ {' and '.join(name for name in ('good', 'poor') if getattr(designed, name))})"
        if designed.asked
        else ""
    )


def _outgoing(designed: Designed, rows: tuple[Row, ...]) -> Curve | None:
    heights = [row.outgoing for row in rows if row.outgoing is not None]
    if not heights or designed.lot_size is None:
        return None
    # The peak itself, which may lie between two columns.
    top = outgoing_limit(designed.plan, designed.lot_size).outgoing
    return Curve("bad left on average after sorting", heights, top, _percent_label, _ends(designed))


def _effort(designed: Designed, rows: tuple[Row, ...]) -> Curve | None:
    inspected = [row.inspected for row in rows if row.inspected is not None]
    if inspected and designed.lot_size is not None:
        title, top = "units tested on average, with sorting", designed.lot_size
        return Curve(title, inspected, top, _count_label, _ends(designed))
    if not isinstance(designed.plan, SequentialPlan):
        return None
    tested = [row.tested for row in rows]
    return Curve("units tested on average", tested, max(tested), _count_label, _ends(designed))


def _spread(designed: Designed, columns: int) -> tuple[Row, ...]:
    """One row a column, over the whole range of shares."""
    return tuple(designed.row(designed.worst * column / (columns - 1)) for column in range(columns))


def _ends(designed: Designed) -> tuple[str, str, str]:
    return "0", _percent_label(designed.worst / 2), f"{_percent_label(designed.worst)} bad"


def _percent_label(share: float) -> str:
    return f"{share * 100:.3g} %"


def _count_label(units: float) -> str:
    return f"{units:.0f}"


def _plain() -> bool:
    try:
        "\u2588\u2584".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return True
    return False
