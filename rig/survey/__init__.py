"""Surveying a unit that is already set: what it is set to, how surely, and an order that sets others alike.

A survey never teaches: the teach contact stays open from beginning to end.
"""
