"""The self-check: whether a rig is what its profile says, before units are taught on it."""
