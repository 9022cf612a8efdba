"""One module a version of the tables, from the one before."""
