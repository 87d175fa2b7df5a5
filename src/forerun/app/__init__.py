"""The command line and the Python functions: the only room that wires the others together."""
