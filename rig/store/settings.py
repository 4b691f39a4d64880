"""A setting in a few words, as lists show it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def setting_words(setting: Mapping[str, Any]) -> str:
    """Such as `single-point NO 400 mm`, from a recorded setting; what it leaves out is left out."""
    given = {key: value for key, value in setting.items() if value is not None}
    points = [f"{given[key]:g}" for key in ("at_mm", "near_mm", "far_mm") if key in given]
    words = [str(given[key]) for key in ("mode", "output_function") if key in given]
    return " ".join([*words, f"{' to '.join(points)} mm"] if points else words)
