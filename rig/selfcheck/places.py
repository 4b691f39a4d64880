"""Where to look: terminals, wires and pins of a part of the rig, by the designations of its wiring papers."""

from __future__ import annotations

from wiring.circuit.build import board_terminal
from wiring.circuit.channels import InputChannel, OutputChannel, input_channels, output_channels
from wiring.lines import InputLine, OutputLine
from wiring.nest import Topology
from wiring.profile import RigProfile
from wiring.saying import say

_CHANGE_OVER = ("11", "12", "14")
_NORMALLY_OPEN = ("13", "14")


class Places:
    """Tells where the parts of one rig are."""

    def __init__(self, profile: RigProfile) -> None:
        self.profile = profile
        self._outputs = {one.line: one for one in output_channels(profile)}
        self._inputs = {one.line: one for one in input_channels(profile)}

    def relay(self, line: OutputLine) -> str:
        """The designation of a relay, such as -K13."""
        return self._output(line).driven

    def contact(self, line: OutputLine) -> str:
        """The terminals of its contact."""
        name = self.relay(line)
        change_over = any(line in (nest.rail_selector, nest.load) for nest in self.profile.nest)
        return ", ".join(f"{name}:{mark}" for mark in (_CHANGE_OVER if change_over else _NORMALLY_OPEN))

    def coil(self, line: OutputLine) -> str:
        """How a coil is driven, from the coil back to the board."""
        output = self._output(line)
        name = output.driven
        volts = f"{self.profile.electrical.control_voltage_v:g} V"
        return say(
            "coil: {volts} between {name}:A1 and {name}:A2 while it is on, else {coupler}:Q{number} "
            "and its wire from {line}",
            volts=volts,
            name=name,
            coupler=output.coupler,
            number=output.number,
            line=self.pin(line),
        )

    def reading(self, line: InputLine) -> str:
        """How an input is read, from its source to the board."""
        one = self._input(line)
        return say(
            "read-back: {source}, {coupler}:{number}, {line}",
            source=one.source,
            coupler=one.coupler,
            number=one.number,
            line=self.pin(line),
        )

    def source(self, line: InputLine) -> str:
        """The terminal that feeds an input."""
        return self._input(line).source

    def pin(self, line: InputLine | OutputLine) -> str:
        """The header pin of a line, with the line's own name."""
        terminal = board_terminal(line.line, self.profile)
        return (
            terminal
            if terminal.endswith(line.line)
            else say("{terminal} ({line})", terminal=terminal, line=line.line)
        )

    def unit_terminal(self, index: int, what: str) -> str:
        """Where a wire of the unit in the nest with that number ends: `L+`, `teach`, `L-`, `output`, `LED`."""
        return f"-X{index}1:{_UNIT[what]}"

    def teach_resistors(self, index: int) -> str:
        """The resistors in the teach path of a nest."""
        two = self.profile.nest[index - 1].topology is Topology.TWO_RELAY
        return f"-R{index}5 or -R{index}6" if two else f"-R{index}5"

    def _output(self, line: OutputLine) -> OutputChannel:
        return self._outputs[line.line]

    def _input(self, line: InputLine) -> InputChannel:
        return self._inputs[line.line]


_UNIT = {"L+": "1", "teach": "2", "L-": "3", "output": "4", "LED": "8"}
