"""Voice, sounds, pedal, and where files live on this system."""
