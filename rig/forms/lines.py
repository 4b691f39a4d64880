"""Gives every part of a rig a GPIO line of its own while the questions of its profile are asked."""

from __future__ import annotations

from rig.forms.answers import gpio_line
from rig.forms.form import Form
from wiring.limits import ABSENT, value_at
from wiring.plainwords import key_text
from wiring.profile import RigProfile
from wiring.tomllines import KeyPath

# Lines that a reset board pulls low come first: a relay that works with a high level stays off on them.
_LINES = tuple(f"GPIO{number}" for number in (*range(9, 14), *range(16, 28), 14, 15, *range(2, 9)))


class Lines:
    """The lines that are taken, and what for."""

    def __init__(self, form: Form[RigProfile]) -> None:
        self._form = form
        self._jobs: dict[str, str] = {}

    @property
    def left(self) -> int:
        """How many lines are still free."""
        return len(_LINES) - len(self._jobs)

    def ask(self, *path: str | int, optional: bool = False, spare: int = 0) -> bool:
        """Ask for the line of the part at `path`; False if it is not fitted, which only an optional one may be.

        An optional part is offered a line only while more than `spare` are left for what has to have one.
        """
        offered = None if optional and self.left <= spare else self._offered(path)
        line = self._form.ask(
            *path,
            "line",
            words=f"line of {key_text(path)}: {self._form.meaning(*path)}",
            default=offered,
            optional=optional,
            parse=gpio_line,
            check=self._clash,
        )
        if line is None:
            self._form.put(path, None)
        else:
            self._jobs[line] = key_text(path)
        return line is not None

    def _offered(self, path: KeyPath) -> str | None:
        usual = value_at((*path, "line"), self._form.data)
        if usual is not ABSENT and usual not in self._jobs:
            return str(usual)
        return next((line for line in _LINES if line not in self._jobs), None)

    def _clash(self, line: str) -> tuple[str, ...]:
        if line not in self._jobs:
            return ()
        free = ", ".join(line for line in _LINES if line not in self._jobs)
        return (f"{line} already works as {self._jobs[line]}; allowed: {free}",)
