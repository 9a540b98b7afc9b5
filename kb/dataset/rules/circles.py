"""Circles of references: a source that in the end copies itself, a number that replaces itself, a kit that contains itself."""

from collections.abc import Iterator, Mapping, Sequence


def circles(arrows: Mapping[str, Sequence[str]]) -> Iterator[tuple[str, ...]]:
    """Circles of a graph, each once, as the nodes visited: ("a", "b", "a"). At least one is found for every set of nodes that share circles.

    Depth-first search with an explicit stack, so that a chain of a hundred thousand arrows is no deeper than one of three.

    >>> list(circles({"a": ["b"], "b": ["c", "a"], "c": []}))
    [('a', 'b', 'a')]
    """
    done: set[str] = set()
    for start in arrows:
        if start in done:
            continue
        path, at = [start], {start: 0}
        stack = [iter(arrows[start])]
        while stack:
            for following in stack[-1]:
                if following in at:
                    yield (*path[at[following] :], following)
                elif following not in done:
                    at[following] = len(path)
                    path.append(following)
                    stack.append(iter(arrows.get(following, ())))
                    break
            else:
                stack.pop()
                done.add(path[-1])
                del at[path.pop()]
