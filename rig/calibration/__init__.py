"""The calibration of a rig's distances: fitted from reference distances, kept in the record, used and shown."""
