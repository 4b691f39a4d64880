"""Sensor types, their teach sequences and orders, as data and the models that validate them."""
