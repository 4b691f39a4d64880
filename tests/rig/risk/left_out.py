"""Faults that the tables of rates leave out, and why."""

from hal.simulated.faults import BenchFaultKind

OF_THE_SELF_CHECK = {
    BenchFaultKind.RELAY_WELDED,
    BenchFaultKind.RELAY_DEAD,
    BenchFaultKind.HEARTBEAT_BRIDGED,
    BenchFaultKind.STOP_BRIDGED,
    BenchFaultKind.STOP_INPUT_DEAF,
    BenchFaultKind.LEAKAGE,
}
"""What is wrong with the rig from the start is the self-check's to find, before units are set."""
