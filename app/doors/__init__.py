"""Who comes in to the web app, and how far: hosts, pairing, what a paired device may do.

May import the service, the styles and Starlette, which Streamlit is served by.
"""
