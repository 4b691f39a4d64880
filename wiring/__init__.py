"""Rig profiles: how a bench is wired, as data, and the shared words of the trade."""
