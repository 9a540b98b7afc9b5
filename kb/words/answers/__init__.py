"""The answers: what the command line prints as JSON, the web pages serve, and the API returns.

Fields may be added, those here stay. Probabilities are 0..1, lists are sorted by falling probability, ids are as in the
dataset, `place` is "" where a component has none, a variant "" is one that is not recorded here.
"""
