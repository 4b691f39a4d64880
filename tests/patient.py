"""Rigs whose coils hold on for longer than usual: a busy computer shall not trip a test that runs in real time."""

from __future__ import annotations

from pathlib import Path

from rig.library import Library
from wiring.profile import RigProfile, find_profile

_HOLD_S = 3.0  # longer than any profile may say
_LONGEST_IN_A_FILE_S = 1.0


def patient(rig: RigProfile) -> RigProfile:
    """The same rig, whose coils hold on."""
    coils = rig.coil_supply.model_copy(update={"dropout_s": _HOLD_S})
    return rig.model_copy(update={"coil_supply": coils})


class PatientLibrary(Library):
    """A library of patient rigs."""

    def read_rig(self, name_or_path: str) -> RigProfile:
        return patient(super().read_rig(name_or_path))


def write_patient_rig(path: Path) -> None:
    """A file of the simulated rig, for a program of its own; as patient as a file may be."""
    shipped = find_profile("simulated").read_text(encoding="utf-8")
    assert "dropout_s = 0.2\n" in shipped
    path.parent.mkdir(exist_ok=True)
    path.write_text(
        shipped.replace("dropout_s = 0.2\n", f"dropout_s = {_LONGEST_IN_A_FILE_S}\n"), encoding="utf-8"
    )
