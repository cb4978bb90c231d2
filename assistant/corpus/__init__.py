"""Authored YAML -> KnowledgeBase: strict reader, value references, lint, digest, snapshot."""
