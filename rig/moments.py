"""Moments as a record holds them."""

from __future__ import annotations

from datetime import UTC, datetime


def utc_now() -> str:
    """UTC by the system's clock, ISO 8601 with milliseconds."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def run_named(what: str) -> str:
    """A name for a run that begins now; no two are alike, and they sort as they came."""
    return f"{datetime.now(UTC):%Y%m%dT%H%M%S.%f}-{what}"
