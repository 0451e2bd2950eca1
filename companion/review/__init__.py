"""What it took, against what was planned."""
