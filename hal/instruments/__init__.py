"""Serial instruments of the bench, behind the bench's own words."""
