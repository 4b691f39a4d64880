"""Which versions of the store there have been."""

from __future__ import annotations

from pathlib import Path

from alembic.script import ScriptDirectory

import rig.store


def later_versions() -> list[str]:
    """Every version between the first and this one, the oldest first."""
    folder = Path(rig.store.__file__).parent / "migrations"
    known = sorted(one.revision for one in ScriptDirectory(folder).walk_revisions())
    return known[1:-1]
