"""The arguments of every command, grouped by what one does with them."""
