"""Reads a drawing into closed regions in mm."""
