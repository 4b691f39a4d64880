"""What it costs to start a command: processor time and modules, beside a Python that does nothing."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence

from tests.benchmarks.figure import Figure, Reference

GOAL_MS = 150.0
HEAVY = ("numpy", "scipy", "sqlalchemy", "textual", "pydantic", "gpiozero", "rich")
"""None of these is needed to say how the command is used."""

_NOTHING = ("-c", "pass")
_COUNT = "import sys; print(*sys.modules)"
_TEACHRIG = """
import sys
from rig.cli.main import main
try:
    sys.exit(main())
finally:
    if "--help" in sys.argv:
        print(*sys.modules, file=sys.stderr)
"""


def measure(*, quick: bool) -> Iterator[Figure]:
    """Measure `--help`, and for information a plan and the smallest demo."""
    repeats = 1 if quick else 10
    nothing = Reference("python -c pass", _best_ms(repeats, _NOTHING))
    with tempfile.TemporaryDirectory() as folder:
        for arguments, goal in (
            (("--help",), GOAL_MS),
            (("plan", "tipper-point-no"), None),
            (("demo", "--units", "1", "--data", folder), None),
        ):
            words = " ".join(("teachrig", *arguments[:3]))
            yield Figure(words, _best_ms(repeats, ("-c", _TEACHRIG, *arguments)), "ms", nothing, goal=goal)
    loaded = modules_of_help()
    heavy = [name for name in HEAVY if name in loaded]
    yield Figure(
        "modules that teachrig --help loads",
        len(loaded),
        "",
        Reference("python -c pass", len(_run(("-c", _COUNT)).stdout.split())),
        note=f"among them {', '.join(heavy)}" if heavy else f"none of {', '.join(HEAVY)}",
    )


def modules_of_help() -> set[str]:
    """The names of the modules that `teachrig --help` has loaded when it ends."""
    return set(_run(("-c", _TEACHRIG, "--help")).stderr.split())


def _run(arguments: Sequence[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, *arguments], check=True, capture_output=True, text=True)


def _best_ms(repeats: int, arguments: Sequence[str]) -> float:
    return min(_processor_ms(arguments) for _ in range(repeats))


def _processor_ms(arguments: Sequence[str]) -> float:
    before_s = _children_s()
    _run(arguments)
    return (_children_s() - before_s) * 1000


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
