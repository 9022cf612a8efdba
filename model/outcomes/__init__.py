"""The one formula, and the probability of what was recorded, in NumPy.

May import ``model.records`` and ``model.base``; arrays reach it as arguments.
"""
