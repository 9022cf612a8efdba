"""What every room needs: errors, units, constants, names, priors.

Imports nothing else of the project.
"""
