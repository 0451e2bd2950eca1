"""The full-screen companion."""
