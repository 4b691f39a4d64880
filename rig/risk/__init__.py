"""How far the whole procedure can be trusted: worked out, and tried on simulated benches by the thousand."""
