"""Checks on the knowledge itself. Nothing in the flow of a document imports this room."""
