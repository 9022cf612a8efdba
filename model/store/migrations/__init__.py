"""Migrations of a store's tables, run by Alembic; may import nothing of the house.

A migration stays what it was when stores were brought up by it, so it names
tables itself and does not follow :mod:`model.store.tables`.
"""
