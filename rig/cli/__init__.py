"""The command line; the one place that owns standard error and exit codes."""
