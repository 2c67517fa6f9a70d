"""Huffman tables of JPEG streams, as a walk over the codes needs them (T.81, annexes B and C)."""

import numpy as np


def huffman_tables(body):
    """Read the tables of a segment.

    Parameters
    ----------
    body : bytes

    Yields
    ------
    number : int
        Of the table, and 16 more for AC.
    counts, values : bytes
        How many codes there are of each length, 1 to 16, and what they stand for.
    """
    while body:
        end = 17 + sum(body[1:17])
        yield body[0], body[1:17], body[17:end]
        body = body[end:]


def by_first_bits(counts, entry, kind):
    """What any 16 bits begin with.

    Parameters
    ----------
    counts : bytes
        As `huffman_tables` gives them.
    entry : callable
        From the length of each code to what the table says of it.
    kind : type
        Of an entry.

    Returns
    -------
    ndarray, shape (65536,)
        0 where no code begins so.

    Raises
    ------
    ValueError
        If there are more codes than fit, or not as many entries as codes.
    """
    lengths = np.repeat(np.arange(1, 17), list(counts))
    known = np.repeat(entry(lengths), 65536 >> lengths)
    table = np.zeros(65536, kind)
    table[: len(known)] = known
    return table
