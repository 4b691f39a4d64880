"""The wiring papers of a rig: sheets drawn from its circuit, and the booklet that binds them with the lists."""
