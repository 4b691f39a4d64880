"""A bench of physics behind gpiozero's pin factory and the serial wires."""
