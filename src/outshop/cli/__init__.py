"""The command line: options, one call, printing."""
