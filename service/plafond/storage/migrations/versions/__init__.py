"""One file a step, named by its revision."""
