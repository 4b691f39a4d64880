"""What is done with one unit of a lot that was delivered: as it came, taught once for trial, and set back again."""
