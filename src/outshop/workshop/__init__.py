"""Causes become a job card, a run-in and care that falls due."""
