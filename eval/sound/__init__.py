"""The bench of hearing and speaking: trials, voices, noises, devices."""
