"""From figures to a verdict: what is required of a unit, the rule of the order, the risk of each verdict. Pure."""
