"""From anchor pulls to honest answers: records, model, questions, services.

Each folder is one room of the house; a room imports only rooms below it
(DEVELOPERS.md draws the layers, tests/test_layers.py holds them).
"""
