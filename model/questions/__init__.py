"""Draws to answers: pure functions, no sampling, no store.

May import posterior, outcomes, arrays, records and base.
"""
