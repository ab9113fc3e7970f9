"""The command line: parse, call the workbench, show."""
