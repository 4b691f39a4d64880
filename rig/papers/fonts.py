"""The fonts of papers: embedded, so that every printer shows the same, with all scripts of Europe in them."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from importlib.resources import files
from xml.sax.saxutils import escape

from reportlab.pdfbase.pdfmetrics import registerFont
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "SourceSansPro", "SourceSansPro-Bold"
_FILES = {REGULAR: "SourceSansPro-Regular.ttf", BOLD: "SourceSansPro-Bold.ttf"}


@lru_cache(maxsize=1)
def register_fonts() -> frozenset[int]:
    """Make both fonts known; returns the code points that both can show."""
    known = []
    for name, file in _FILES.items():
        font = TTFont(name, str(files("font_source_sans_pro") / "files" / file))
        registerFont(font)
        known.append(frozenset(font.face.charToGlyph))
    return known[0] & known[1]


def visible(text: str) -> str:
    """Text with every character that nobody sees, or that turns what is around it, written out as its code."""
    return "".join(
        letter if letter.isprintable() else _code(letter) for letter in unicodedata.normalize("NFC", text)
    )


def showable(text: str) -> str:
    """Visible text with every character that the fonts lack written out as its code too."""
    known = register_fonts()
    return "".join(letter if ord(letter) in known else _code(letter) for letter in visible(text))


def _code(letter: str) -> str:
    return f"[U+{ord(letter):04X}]"


def marked_up(text: str) -> str:
    """Text for a paragraph: all of it shown, none of it taken for markup."""
    return escape(showable(text))
