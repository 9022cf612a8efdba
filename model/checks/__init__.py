"""Whether a fit, and the answers from it, can be trusted: from stored draws alone.

May import ``model.questions``, ``model.posterior``, ``model.outcomes``, ``model.arrays``,
``model.records`` and ``model.base``; nothing here samples a posterior.
"""
