"""Mutation testing: small faults put into planner and session, and the tests that must notice.

``python -m tests.mutants run`` draws, runs and writes down; ``report`` tells what stands.
Ready tools were looked at: they run one command for each mutant, and some of our guards take
a minute. Here the tests that reach the changed line are known beforehand and run quickest
first, in a process forked from one that has the libraries loaded.
"""
