"""Pictures, one per module: each returns an Altair chart and the sentence that describes it.

May import app.style, app.marks and ``model``; never Streamlit.
"""
