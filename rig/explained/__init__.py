"""The figures of a plan worked out again, formula by formula, so that a pocket calculator can follow."""
