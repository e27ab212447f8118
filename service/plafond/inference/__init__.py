"""Runs rules over what is known: findings in, a truth for every rule out, and the reasons.

Takes the known values of one side; gives truths that two interpreters agree on, traces, and the
findings that would settle what is open. Refuses to know the web, storage, or what wins.
"""
