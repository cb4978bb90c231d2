"""models.yaml -> verified model files: what is installed, where it can come from, fetching when told."""
