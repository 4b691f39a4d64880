"""`teachrig schema`: the JSON Schema of one kind of data file, for an editor."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit
from rig.schemas import schema_text


def command(options: Namespace) -> int:
    """Print the schema as it is shipped."""
    print(schema_text(options.kind), end="")
    return Exit.DONE
