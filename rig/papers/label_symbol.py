"""The machine-readable code of a label as dark rectangles: Data Matrix (ISO/IEC 16022, ECC 200) or QR (ISO/IEC 18004).

pyStrich lays the modules out; where they go on paper is the label's business.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rig.papers.label_parts import LEAST_QUIET, CodeKind

if TYPE_CHECKING:
    from pystrich.marks import SymbolMarks


class CodeTooLong(ValueError):
    """No symbol of this kind holds so long a message."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """A square symbol without its quiet zone.

    `runs` are its dark rectangles, each x, y, width and height in modules from the upper left corner.
    """

    modules: int
    runs: tuple[tuple[int, int, int, int], ...]


def symbol(text: str, kind: CodeKind) -> Symbol:
    """The smallest symbol that holds an ASCII text.

    Raises CodeTooLong.
    """
    from pystrich.exceptions import PyStrichInvalidInput  # 35 ms that only a label has to pay

    try:
        marks = _data_matrix(text) if kind is CodeKind.DATA_MATRIX else _qr(text)
    except PyStrichInvalidInput as fault:
        raise CodeTooLong(f"no {kind} code holds {len(text)} characters") from fault
    quiet = 0 if kind is CodeKind.DATA_MATRIX else LEAST_QUIET[kind]
    runs = tuple((x - quiet, y - quiet, width, height) for x, y, width, height in marks.marks)
    return Symbol(marks.width - 2 * quiet, runs)


def _data_matrix(text: str) -> SymbolMarks:
    from pystrich.datamatrix import DataMatrixData, DataMatrixEncoder

    return DataMatrixEncoder(DataMatrixData(text, encoding="ascii"), quiet_zone=0).get_rect_marks()


def _qr(text: str) -> SymbolMarks:
    from pystrich.qrcode import QRCodeData, QRCodeEncoder

    # Level M restores 15 % of the symbol, enough for a scratched label (ISO/IEC 18004).
    return QRCodeEncoder(QRCodeData(text, encoding="ascii"), "M").get_rect_marks()
