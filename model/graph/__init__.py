"""Arrays and priors to the compiled log density: reads no file, does not sample.

May import outcomes, arrays, records and base. Numba lives here, nutpie in
``model.inference`` only.
"""
