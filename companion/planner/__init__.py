"""Turns a pattern into a plan: findings, holes, cuts, order, steps, minutes."""
