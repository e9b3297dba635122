"""One module for each step. A step must leave the program of the step before working.

Add columns that may be NULL or have a default, fill them, and drop what nothing reads in a later
release: while an upgrade runs, workers of the previous release go on answering.
"""
