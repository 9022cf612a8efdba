"""Facts in, facts out: campaign, pulls, attempts and answers in SQLite, posteriors beside it.

May import posterior, outcomes, arrays, records and base. SQLAlchemy lives in
this room only.
"""
