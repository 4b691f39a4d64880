"""The sequencer: runs a plan on a nest; everything that happens becomes an event."""
