"""The commands of the command line, one module each, loaded when they run."""
