"""The bench of fault isolation: bars, simulation, calibration."""
