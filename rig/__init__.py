"""The application: planning, sequencer, records and command line."""
