"""Finished work on disk, checked on reading, so that a run can go on."""
