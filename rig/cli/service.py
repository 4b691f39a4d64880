"""`teachrig service`: a systemd unit for this board, with the paths of this installation."""

from __future__ import annotations

import re
import shlex
import sys
from argparse import Namespace
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.inputs import open_library, read_profile

if TYPE_CHECKING:
    from wiring.profile import RigProfile

_WORD = re.compile(r"[a-z_][a-z0-9_-]{0,31}")
# What the kernel calls GPIO chips, serial adapters, the board's own serial ports and virtual terminals
# (/proc/devices).
_GPIO, _PORTS, _SCREEN = (
    "char-gpiochip",
    ("char-ttyUSB", "char-ttyACM", "char-ttyS", "char-ttyAMA"),
    "char-tty",
)


def command(options: Namespace) -> int:
    """Print the unit; how to install it goes to standard error."""
    profile = read_profile(options.rig, open_library())
    for key in ("user", "tty"):
        _check(key, getattr(options, key))
    with reader_may_leave():
        print(unit_text(profile, options.rig or "simulated", options.user, options.tty), end="")
    for line in _how_to_install(options.user, profile):
        narrate(line)
    return Exit.DONE


def unit_text(profile: RigProfile, rig: str, user: str, tty: str) -> str:
    """The unit for one rig profile, by its name or path."""
    on_board = profile.back_end == "gpio"
    devices = [_SCREEN, *(_PORTS if _has_ports(profile) else ()), *((_GPIO,) if on_board else ())]
    template = Template((files("rig.cli") / "bench.service").read_text(encoding="utf-8"))
    return template.substitute(
        rig=_escaped(str(Path(rig).resolve()) if "/" in rig or rig.endswith(".toml") else rig),
        teachrig=_escaped(str(Path(sys.executable).with_name("teachrig"))),
        user=user,
        tty=tty,
        groups=" ".join(_groups(profile)),
        devices="\n".join(f"DeviceAllow={device} rw" for device in devices),
    )


def _groups(profile: RigProfile) -> list[str]:
    groups = ["gpio"] if profile.back_end == "gpio" else []
    return [*groups, "dialout"] if _has_ports(profile) else groups


def _has_ports(profile: RigProfile) -> bool:
    return bool(profile.ports())


def _escaped(word: str) -> str:
    # A percent sign begins a specifier of systemd.
    return shlex.quote(word).replace("%", "%%")


def _check(key: str, given: str) -> None:
    if not _WORD.fullmatch(given):
        raise GiveUp(
            Exit.BAD_INPUT, f"--{key}: given {given!r}; allowed: lower-case letters, digits, _ and -"
        )


def _how_to_install(user: str, profile: RigProfile) -> list[str]:
    groups = ",".join(_groups(profile))
    member = f" --groups {groups}" if groups else ""
    return [
        "To install it, as an administrator:",
        f"  useradd --system --shell /usr/sbin/nologin{member} {user}",
        "  teachrig service ... > /etc/systemd/system/teachrig.service",
        "  systemctl daemon-reload && systemctl enable --now teachrig",
    ]
