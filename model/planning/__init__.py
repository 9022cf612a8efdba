"""What to pull next, a day's order, a rehearsal: from draws alone, nothing is sampled here.

May import ``model.questions``, ``model.outcomes``, ``model.posterior``, ``model.arrays``,
``model.records`` and ``model.base``.
"""
