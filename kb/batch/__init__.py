"""Answering a thousand inquiries: in chunks, by several processes or a cluster, keeping finished chunks so that nothing is answered twice or lost."""
