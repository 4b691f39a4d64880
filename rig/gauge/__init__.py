"""The gauge study: whether what this rig measures of a unit is good enough to judge units by."""
