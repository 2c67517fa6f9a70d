"""What LibRaw finds damaged, asked of it through its C interface.

By way of rawpy it writes to the terminal only, for no file in particular, and goes on. LibRaw,
API notes: `libraw_set_dataerror_handler`.
"""

import ctypes
from functools import cache
from pathlib import Path

_HANDLER = ctypes.CFUNCTYPE(None, ctypes.c_void_p, ctypes.c_char_p, ctypes.c_longlong)


def damaged_place(data):
    """Unpack a raw file for the sake of LibRaw's complaints alone.

    Parameters
    ----------
    data : bytes
        The file.

    Returns
    -------
    int or None
        Byte near the first damage, -1 for the end of the file. None if LibRaw complains of
        nothing, cannot open the file at all, or is not found beside rawpy.
    """
    library = _library()
    places = []
    handler = _HANDLER(lambda _, name, place: places.append(place))
    handle = library and library.libraw_init(0)
    if not handle:
        return None
    try:
        library.libraw_set_dataerror_handler(handle, handler, None)
        if library.libraw_open_buffer(handle, data, len(data)) == 0:
            library.libraw_unpack(handle)
    finally:
        library.libraw_close(handle)
    return places[0] if places else None


@cache
def _library():
    import rawpy

    found = [path for path in Path(rawpy.__file__).parent.glob("*raw_r*") if path.is_file()]
    if not found:
        return None
    library = ctypes.CDLL(str(min(found)))
    library.libraw_init.restype = ctypes.c_void_p
    for name, more in (
        ("set_dataerror_handler", (_HANDLER, ctypes.c_void_p)),
        ("open_buffer", (ctypes.c_char_p, ctypes.c_size_t)),
        ("unpack", ()),
        ("close", ()),
    ):
        getattr(library, f"libraw_{name}").argtypes = (ctypes.c_void_p, *more)
    return library
