"""Parts of pages that more than one view, or one long view, is put together from.

May import app.style, app.figures and ``model``; data is handed to them by the views.
"""
