"""Help: how to work with the screen, every key, and the cautions."""

from __future__ import annotations

from collections.abc import Iterator

from rig.screen.page import PageScreen
from rig.screen.view.commands import COMMANDS, key_of
from rig.screen.view.lines import Line, Role, Span, line, wrapped

_PARTS = ("cautions", "work", "devices", "marks")


class HelpScreen(PageScreen):
    """What has to be known before a unit is touched, and then the rest."""

    def heading(self) -> Line:
        """What this is."""
        return line(Span(f" {self.words('help.title')}", Role.STRONG))

    def page(self, width: int, /) -> Iterator[Line]:
        """Cautions first, keys last."""
        words = self.words
        for part in _PARTS:
            role = Role.WARN if part == "cautions" else Role.STRONG
            yield line(Span(words(f"help.{part}"), role))
            for sentence in words(f"help.{part}-text").split("\n"):
                yield from (line(f" {text}") for text in wrapped(sentence, width - 2, 6))
            yield line()
        yield line(Span(words("help.keys"), Role.STRONG))
        for command in COMMANDS.values():
            what = words(f"command.{command.name}")
            yield line(" ", Span(f"{key_of(command.name, words):>5}", Role.KEY), f"  {what}")
