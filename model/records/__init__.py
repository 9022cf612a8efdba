"""What was done on the water and what is asked of it: frozen, validated records.

May import ``model.base`` only. Lengths are metres, loads kilonewtons, times
seconds; the unit is part of each name.
"""
