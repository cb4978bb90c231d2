"""Utterance -> Query -> Findings: exact names, words, vectors, fusion, and whether the knowledge covers the question."""
