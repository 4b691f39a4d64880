"""Uncertainty, conformity and risk: what numbers prove, and how surely. Pure arithmetic, no bench."""
