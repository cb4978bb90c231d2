"""How people's words meet the knowledge: coverage, likeness, sayability, robustness."""
