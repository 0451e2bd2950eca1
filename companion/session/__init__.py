"""The walk through a plan as a state machine, without clock or screen."""
