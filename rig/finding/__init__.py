"""Finding: units, orders, yields and readings, asked of what the store has read out of its entries."""
