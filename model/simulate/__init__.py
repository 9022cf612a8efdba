"""Pulls as they happen on the water, step by step, from a known truth.

Serves the demo, rehearsals and calibration. Written apart from
``model.outcomes`` and ``model.graph``, which it must never import: a bug that
both shared would hide. May import records and base.
"""
