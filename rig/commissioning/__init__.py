"""Building a new rig: wire by wire and meter in hand, from its wiring papers to a signed record."""
