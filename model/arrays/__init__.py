"""Records to labelled arrays: what a fit, and everything after it, indexes with.

May import ``model.records`` and ``model.base``.
"""
