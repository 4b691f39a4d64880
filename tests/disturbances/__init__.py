"""Serial cables that are cut, garbled, delayed, pulled, put back and exchanged while orders are worked through."""
