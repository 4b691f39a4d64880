"""Looks: the colours of every role, light and dark, each with the contrast that WCAG 2.1 asks of text; and none at all.

States follow IEC 60073: red danger, yellow abnormal, green normal, blue an action is wanted, grey neutral.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rich.style import Style
from textual.theme import Theme

from rig.screen.view.lines import Role


@dataclass(frozen=True, slots=True)
class Paint:
    """Ink on ground, as #rrggbb; None is the terminal's own."""

    ink: str | None
    ground: str | None = None
    bold: bool = False
    reverse: bool = False
    underline: bool = False

    def style(self, ground: str | None) -> Style:
        """The same for the terminal, on `ground` where it has none of its own."""
        return Style(
            color=self.ink,
            bgcolor=self.ground or ground,
            bold=self.bold,
            reverse=self.reverse,
            underline=self.underline,
        )


@dataclass(frozen=True, slots=True)
class Look:
    """How the screen looks: `fills` are for a whole line that says one thing, such as a verdict."""

    name: str
    dark: bool
    ground: str | None
    paints: Mapping[Role, Paint]
    fills: Mapping[Role, Paint]


DARK = Look(
    "dark",
    True,
    "#12171c",
    MappingProxyType(
        {
            Role.PLAIN: Paint("#dfe4e8"),
            Role.DIM: Paint("#97a3ad"),
            Role.STRONG: Paint("#ffffff", bold=True),
            Role.GOOD: Paint("#6fdc8c", bold=True),
            Role.WARN: Paint("#f4c945", bold=True),
            Role.BAD: Paint("#ff8d85", bold=True),
            Role.WISH: Paint("#86c3ff", bold=True),
            Role.KEY: Paint("#12171c", "#b9c5cf", bold=True),
            Role.OFF_KEY: Paint("#97a3ad"),
            Role.STOP_KEY: Paint("#ffffff", "#b3261e", bold=True),
            Role.CHOSEN: Paint("#12171c", "#86c3ff", bold=True),
        }
    ),
    MappingProxyType(
        {
            Role.PLAIN: Paint("#ffffff", "#2b353e", bold=True),
            Role.GOOD: Paint("#ffffff", "#176b35", bold=True),
            Role.WARN: Paint("#1a1400", "#f2c230", bold=True),
            Role.BAD: Paint("#ffffff", "#b3261e", bold=True),
            Role.WISH: Paint("#ffffff", "#1b5da6", bold=True),
        }
    ),
)

LIGHT = Look(
    "light",
    False,
    "#f6f4ee",
    MappingProxyType(
        {
            Role.PLAIN: Paint("#23282d"),
            Role.DIM: Paint("#58626b"),
            Role.STRONG: Paint("#000000", bold=True),
            Role.GOOD: Paint("#125c2c", bold=True),
            Role.WARN: Paint("#6e4e00", bold=True),
            Role.BAD: Paint("#a31e17", bold=True),
            Role.WISH: Paint("#134f93", bold=True),
            Role.KEY: Paint("#ffffff", "#414b54", bold=True),
            Role.OFF_KEY: Paint("#58626b"),
            Role.STOP_KEY: Paint("#ffffff", "#b3261e", bold=True),
            Role.CHOSEN: Paint("#ffffff", "#134f93", bold=True),
        }
    ),
    MappingProxyType(
        {
            Role.PLAIN: Paint("#14191d", "#d9d5c8", bold=True),
            Role.GOOD: Paint("#ffffff", "#176b35", bold=True),
            Role.WARN: Paint("#1a1400", "#f2c230", bold=True),
            Role.BAD: Paint("#ffffff", "#b3261e", bold=True),
            Role.WISH: Paint("#ffffff", "#1b5da6", bold=True),
        }
    ),
)

PLAIN = Look(
    "plain",
    True,
    None,
    MappingProxyType(
        {
            Role.PLAIN: Paint(None),
            Role.DIM: Paint(None),
            Role.STRONG: Paint(None, bold=True),
            Role.GOOD: Paint(None, bold=True),
            Role.WARN: Paint(None, bold=True, underline=True),
            Role.BAD: Paint(None, bold=True, reverse=True),
            Role.WISH: Paint(None, bold=True),
            Role.KEY: Paint(None, reverse=True),
            Role.OFF_KEY: Paint(None),
            Role.STOP_KEY: Paint(None, bold=True, reverse=True),
            Role.CHOSEN: Paint(None, bold=True, reverse=True),
        }
    ),
    MappingProxyType(
        {
            Role.PLAIN: Paint(None, bold=True),
            Role.GOOD: Paint(None, bold=True),
            Role.WARN: Paint(None, bold=True, underline=True),
            Role.BAD: Paint(None, bold=True, reverse=True),
            Role.WISH: Paint(None, bold=True),
        }
    ),
)

LOOKS: Mapping[str, Look] = MappingProxyType({look.name: look for look in (DARK, LIGHT, PLAIN)})


def contrast(first: str, second: str) -> float:
    """The contrast ratio of two colours, 1 to 21 (WCAG 2.1, definition of contrast ratio)."""
    lighter, darker = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1, definition of relative luminance)."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def theme_of(look: Look) -> Theme:
    """A look in the words of the library that draws."""
    ground, ink = look.ground, look.paints[Role.PLAIN].ink
    return Theme(
        f"bench-{look.name}",
        primary=look.paints[Role.WISH].ink or "",
        background=ground,
        surface=ground,
        panel=ground,
        foreground=ink,
        dark=look.dark,
    )
