"""House style: colours, words, numbers, cards. May import model.base and model.records."""
