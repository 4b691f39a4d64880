"""A paper as one file for a browser: opens offline, asks for nothing, works without scripts too.

Its policy lets the page load nothing at all, and lets only the style and the script run that are written into it.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files

from jinja2 import BaseLoader, Environment, StrictUndefined, Template
from markupsafe import Markup

from rig.papers.chart import POINT_MM
from rig.papers.fonts import visible
from rig.papers.paper import Paper

_FOLDER = files("rig.papers") / "html"


def paper_html(paper: Paper) -> bytes:
    """The paper as HTML, all of its words as text, whatever is in them."""
    css, script = _written_in("paper.css"), _written_in("paper.js")
    policy = (
        f"default-src 'none'; style-src '{_digest(css)}'; script-src '{_digest(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    page = _template().render(paper=paper, css=css, script=script, policy=policy, point_mm=POINT_MM)
    return page.encode("utf-8")


def _written_in(name: str) -> Markup:
    return Markup((_FOLDER / name).read_text(encoding="utf-8"))


def _digest(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


@cache
def _template() -> Template:
    environment = Environment(
        loader=BaseLoader(),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["mm"] = _in_mm
    environment.filters["longest_word"] = _longest_word
    return environment.from_string((_FOLDER / "paper.html.jinja").read_text(encoding="utf-8"))


def _shown(value: object) -> object:
    """Whatever a template puts on the page: no letter in it that nobody sees."""
    return visible(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def _in_mm(length: float) -> str:
    return f"{length:.2f}"


def _longest_word(words: str) -> int:
    return max(map(len, words.split()), default=0)
