"""Walks the Huffman codes of a lossless JPEG stream (ITU-T T.81, annexes F.2.2 and H).

Nothing is decoded: the walk only tells whether the stream holds as many codes as its header
promises, which a stream that was damaged on the way practically never does.
"""

import numpy as np

from grading.kernels.integrity.dct_codes import is_data
from grading.kernels.primitives import compiled

DAMAGED = -1
_LONGEST = 32  # bits of a code with those after it


@compiled
def left_over(stream, steps, samples):
    """Bits between the last code of a scan and the marker after it.

    Parameters
    ----------
    stream : ndarray, 1-D, uint8
        Entropy-coded bytes, up to the end of the segment of the file.
    steps : ndarray, shape (components, 65536), uint8
        For the next 16 bits: how long the code and the bits that follow it are together; 0 where
        there is no such code.
    samples : int
        Codes for each component.

    Returns
    -------
    int
        `DAMAGED` if the stream ends, or a code is none, before all samples are there.
    """
    held, count, place = np.uint64(0), 0, 0
    more = True
    for _ in range(samples):
        for component in range(steps.shape[0]):
            while count < _LONGEST and more:
                more = is_data(stream, place)
                if more:
                    held = (held << np.uint64(8)) | np.uint64(stream[place])
                    place += 2 if stream[place] == 255 else 1
                    count += 8
            if count >= 16:
                following = held >> np.uint64(count - 16)
            else:
                following = held << np.uint64(16 - count)
            step = np.int64(steps[component, following & np.uint64(0xFFFF)])
            if step == 0 or step > count:
                return DAMAGED
            count -= step
    while is_data(stream, place):
        place += 2 if stream[place] == 255 else 1
        count += 8
    return count
