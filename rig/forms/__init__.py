"""Data files made by asking: one question a key, every answer checked by the file's own model at once."""
