"""Checks on the knowledge itself. Nothing in the flow of a document imports this room.

verify        every check in a row; read it first
cases         what the cases of a rule show, and what they leave open
mutants       the slips one could make in a rule; `mutation` tells which a case would notice
reasoning     dead rules, dead parts, doubles
numbers       sources of numbers; the sentence against the condition
completeness  findings nothing reaches, options half described, codes that are none
coverage      the map of the field as data; `drawing` makes a picture of it
trees, limits, tables, places   what these are made with
"""
