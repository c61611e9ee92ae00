"""The physics: a low-voltage street as a circuit, its faults, and what instruments show.

Standard library only, so that the same code runs in CPython and in the reader's browser.
"""
