"""The terminal surface: the page of an assessment, and pages of the knowledge.

Takes an assessment or a rulebook, gives something `rich` prints.
"""
