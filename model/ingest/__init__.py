"""Text to records at the border, and records back to text.

Every fault of a file is named at once, by file, line and column, with what
was found and what would do. May import records, base and the rooms below.
"""
