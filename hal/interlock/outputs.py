"""The outputs themselves: opened at their safe levels, written here and nowhere else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from gpiozero import OutputDevice
from gpiozero.pins import Factory

from hal.interlock.rules import Job
from wiring.lines import Level, OutputLine
from wiring.profile import RigProfile


@dataclass(frozen=True, slots=True)
class OutputId:
    """One output of the bench: its job, and the nest it works for."""

    job: Job
    nest: str | None = None

    def __str__(self) -> str:
        return f"{self.job} of nest {self.nest}" if self.nest else str(self.job)


_OFF_ORDER = (
    Job.TEACH_CONTACT,
    Job.PLUS_CONTACT,
    Job.MINUS_CONTACT,
    Job.SUPPLY,
    Job.LOAD,
    Job.RAIL_SELECTOR,
    Job.SWING,
    Job.HEARTBEAT,
)


class Outputs:
    """Every output line of a bench, in the order in which they are switched off."""

    def __init__(self, profile: RigProfile, pin_factory: Factory) -> None:
        self._devices: dict[OutputId, OutputDevice] = {}
        for output, line in output_lines(profile):
            self._devices[output] = OutputDevice(
                line.line, active_high=line.active is Level.HIGH, pin_factory=pin_factory
            )

    def write(self, output: OutputId, on: bool) -> None:
        """Switch one output."""
        device = self._devices[output]
        device.on() if on else device.off()

    def writer(self, output: OutputId) -> Callable[[bool], None]:
        """The quickest way to write one output again and again."""
        device = self._devices[output]
        pin, levels = device.pin, (1, 0) if not device.active_high else (0, 1)

        def write(on: bool) -> None:
            pin.state = levels[on]

        return write

    def all_off(self) -> tuple[OutputId, BaseException] | None:
        """Switch every output off; one that fails does not keep the others. Returns the first failure."""
        failure = None
        for output, device in self._devices.items():
            error = _off(device)
            if error is not None:
                failure = failure or (output, error)
        return failure

    def release(self) -> None:
        """Give the lines back. The GPIO library writes nothing when it closes: call `all_off` first."""
        for device in self._devices.values():
            device.close()


def output_lines(profile: RigProfile) -> tuple[tuple[OutputId, OutputLine], ...]:
    """Every output of a bench, in the order in which they are switched off."""
    return tuple(sorted(_lines(profile), key=lambda pair: _OFF_ORDER.index(pair[0].job)))


def _off(device: OutputDevice) -> BaseException | None:
    try:
        device.off()
    except BaseException:
        # An interrupt may have come before the write: once more, and whatever comes, on to the next output.
        try:
            device.off()
        except BaseException as error:
            return error
    return None


def _lines(profile: RigProfile) -> Iterator[tuple[OutputId, OutputLine]]:
    yield OutputId(Job.HEARTBEAT), profile.coil_supply.heartbeat
    if profile.target.swing is not None:
        yield OutputId(Job.SWING), profile.target.swing
    for nest in profile.nest:
        for job in _OFF_ORDER:
            line = getattr(nest, job, None)
            if line is not None:
                yield OutputId(job, nest.name), line
