"""The conversation by voice: what is heard and said, and when; every part has a twin without a device."""
