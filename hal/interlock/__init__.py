"""The one way to an output: what refuses or opens an unsafe combination."""
