"""The only code that knows GPIO, serial ports or relays; it speaks in the bench's words."""
