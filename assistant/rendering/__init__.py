"""Answer -> terminal text, or the JSON object that question sets are run against."""
