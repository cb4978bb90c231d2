"""The nouns of the program: frozen, typed values that cross from module to module."""
