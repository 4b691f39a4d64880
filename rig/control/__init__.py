"""Staying in control: charts of a check unit and of production, what counts as a signal, and what follows from one."""
