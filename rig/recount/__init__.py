"""Recount: every verdict worked out once more from the record alone, and told in words and numbers."""
