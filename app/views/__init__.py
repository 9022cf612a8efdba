"""Views, one file a page, each with one purpose.

A view takes its data from app.data and its looks from app.style, app.parts and
app.figures; it never reaches the sampler, not even through others.
"""
