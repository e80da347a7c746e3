"""An invented coaching business, made from a seed: people, gear, oil, and sessions that were bowled
by the motion model with scatter, reading error and, in a third of them, a planted change.

Nobody and nothing in here is real. Nothing outside this package imports it but the demo command.
"""
