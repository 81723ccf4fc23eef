"""The command: arguments, output, exit codes. The only place that prints."""
