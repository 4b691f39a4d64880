"""JSON Schemas of the data files, for editors that complete and check TOML while it is typed.

`python -m rig.schemas.generate` writes them anew after a change of a model; a test tells when that was forgotten.
"""

from __future__ import annotations

SCHEMAS = ("order", "type", "rig", "bench", "rates", "label", "receiving")
"""The kinds of data files that have a schema."""


def schema_text(name: str) -> str:
    """Return the JSON Schema of one of `SCHEMAS` as it is shipped."""
    from importlib.resources import files  # 25 ms that only a look-up has to pay

    return files(__name__).joinpath(file_name(name)).read_text(encoding="utf-8")


def file_name(name: str) -> str:
    """Return the name of the file that holds the schema of one of `SCHEMAS`."""
    return f"{name}.schema.json"
