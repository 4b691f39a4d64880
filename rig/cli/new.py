"""`teachrig new`: asks for an order, a sensor type or a rig profile, and writes its file."""

from __future__ import annotations

import shutil
import sys
import textwrap
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import open_library, read_or_give_up, read_profile
from rig.cli.writing import STANDARD_OUTPUT, must_be_free, write_new
from rig.forms.form import Form
from rig.forms.interview import Interview, Left
from rig.forms.written import as_toml
from rig.library import Library, Section


class _Kind(NamedTuple):
    section: Section
    name_key: str
    next_step: str


_KINDS = {
    "order": _Kind(Section.ORDERS, "number", "teachrig plan {}"),
    "type": _Kind(Section.TYPES, "name", "teachrig types {}"),
    "rig": _Kind(Section.RIGS, "name", "teachrig plan tipper-point-no --rig {}"),
}


class StandardStreams:
    """The person at the terminal: prompts go to standard error, answers come from standard input."""

    def say(self, words: str) -> None:
        """Show some lines, none wider than the terminal."""
        width = shutil.get_terminal_size().columns
        for line in words.split("\n"):
            narrate(textwrap.fill(line, width, subsequent_indent="    ", break_on_hyphens=False))

    def read(self, prompt: str) -> str:
        """Show a prompt and return the line that is typed."""
        print(prompt, end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise Left
        return line


def command(options: Namespace) -> int:
    """Ask, then write the file; nothing is left behind if the person leaves before the end."""
    kind = _KINDS[options.kind]
    library = Library(open_library().home)
    course = _course(options, library)
    if options.out not in (None, STANDARD_OUTPUT):
        must_be_free(Path(options.out))
    narrate(f"New {kind.section.what}: Enter takes what is in [ ], < goes back, Ctrl-C writes nothing.")
    try:
        form = Interview(StandardStreams()).conduct(lambda interview: _whole(course(interview)))
    except (Left, KeyboardInterrupt):
        narrate("\nleft before the end; nothing is written")
        return Exit.INTERRUPTED
    text = as_toml(form.data, form.schema, _heading(options.kind, form))
    if options.out == STANDARD_OUTPUT:
        print(text, end="")
        return Exit.DONE
    name = form.data[kind.name_key]
    path = Path(options.out) if options.out else library.own_folder(kind.section) / f"{name}.toml"
    write_new(path, text)
    print(path)
    narrate(f"next: {kind.next_step.format(path if options.out else name)}")
    return Exit.DONE


def _course(options: Namespace, library: Library) -> Callable[[Interview], Form[Any]]:
    known = read_or_give_up(lambda: library.entries(_KINDS[options.kind].section))
    if options.kind != "order" and options.rig is not None:
        raise GiveUp(
            Exit.BAD_INPUT, "--rig belongs to an order, which is planned on it; allowed: leave it out"
        )
    if options.kind == "rig":
        from rig.forms.rig_profile import rig_form

        return lambda interview: rig_form(interview, known)
    types = library.good_types()
    if options.kind == "type":
        from rig.forms.sensor_type import type_form

        return lambda interview: type_form(interview, types, known)
    from rig.forms.order import order_form

    rig = read_profile(options.rig, library)
    return lambda interview: order_form(interview, types, known, rig)


def _whole(form: Form[Any]) -> Form[Any]:
    """Go back if the answers, each of them good, cannot be true together."""
    problems = form.problems(form.data)
    for problem in problems:
        form.interview.say(f"  {problem.key}: {problem.message}; allowed: {problem.allowed}")
    if problems:
        form.interview.go_back()
    return form


def _heading(kind: str, form: Form[Any]) -> list[str]:
    words = [f"Made with `teachrig new {kind}`.", *form.remarks]
    untouched = form.untouched()
    if untouched:
        words.append(f"Taken over without asking: {', '.join(untouched)}.")
    return [line for one in words for line in textwrap.wrap(one, 100)]
