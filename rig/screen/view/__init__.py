"""What the screen says, worked out from plan, events and the state of the lines; knows no terminal."""
