"""The acts of `teachrig lot`, a file each."""
