"""Graph to draws: compile, sample, check, and say where the draws came from.

May import graph, posterior, outcomes, arrays, records and base.
"""
