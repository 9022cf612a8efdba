"""Three thin faces: command line, web app and worker.

May import every room of ``model``; Streamlit lives here only. ``app/views``
and ``app/data.py`` never reach the sampler, not even through others: a page
does not wait on a fit.
"""
