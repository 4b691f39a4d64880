"""Papers: what is printed for a person to hold."""
