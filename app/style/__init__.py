"""House style: colours, words, numbers, cards.

May import model.base and model.records, and what an answer is from model.questions.
"""
