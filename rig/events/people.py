"""What people are asked for, do and say."""

from __future__ import annotations

from typing import ClassVar

from rig.events.event import Event, kind_of_event


@kind_of_event
class Asked(Event):
    """The person was asked for something."""

    kind: ClassVar[str] = "asked"
    request: str
    text: str
    position_mm: float | None


@kind_of_event
class PersonSilent(Event):
    """The person did not do in time what was asked."""

    kind: ClassVar[str] = "person-silent"
    words: str


@kind_of_event
class PersonSignedIn(Event):
    """Who works at the bench from now on, and how they said so; an empty name signs out."""

    kind: ClassVar[str] = "person-signed-in"
    person: str
    how: str


@kind_of_event
class DocumentMade(Event):
    """A paper was made of this unit or order: what kind, the SHA-256 of its file, by whom, and where it went."""

    kind: ClassVar[str] = "document-made"
    document: str
    sha256: str
    person: str
    where: str


@kind_of_event
class Corrected(Event):
    """An earlier entry of this bench is wrong: which one, in which field, what is right, who says so and why.

    The earlier entry stays as it is. `field` is one of its own, or empty where only a remark is made.
    """

    kind: ClassVar[str] = "corrected"
    corrects: int
    field: str
    right: str
    person: str
    why: str
