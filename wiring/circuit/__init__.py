"""The rig's circuit, worked out from its profile alone: devices, terminals, wires. Papers are drawn from it."""
