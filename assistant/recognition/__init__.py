"""What was said or typed -> codes, designations and numbers that the knowledge has names for."""
