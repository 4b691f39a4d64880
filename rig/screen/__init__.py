"""The bench screen: what the technician looks at all day."""
