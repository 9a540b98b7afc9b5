"""A thousand inquiries at once: in chunks, by several processes or a cluster, finished chunks kept so that nothing is answered twice or lost."""
