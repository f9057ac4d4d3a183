"""What steel does: gate, latch, lever and puller to a release model and a closing curve.

Start with `setup`, which joins them, and `opening`, which is what it hands on.
"""
