"""Pure planning: order, sensor type and rig profile in, every step and position out."""
