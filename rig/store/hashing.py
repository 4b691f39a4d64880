"""The hash by which the store holds content once: SHA-256 over canonical JSON."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any


def content_of(data: Mapping[str, Any]) -> tuple[str, str]:
    """The SHA-256 of some content, and the canonical JSON that it is of."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest(), text
