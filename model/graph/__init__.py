"""Arrays and priors to a PyMC model: reads no file, does not sample.

May import outcomes, arrays, records and base. PyMC lives here and in
``model.inference`` only.
"""
