"""The commands: each reads its options, calls the service, and shows the outcome.

May import what app has for text and JSON, and the service; everything heavy where it is used.
"""
