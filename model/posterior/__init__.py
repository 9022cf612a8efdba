"""The draws with their schema, provenance and verdict.

May import arrays, outcomes, records and base. Everything right of this room
works on draws only.
"""
