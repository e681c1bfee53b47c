# SPDX-License-Identifier: MIT
"""libnodoff.so.0 by ctypes: the functions that are used, and the layouts that belong to its
soversion (capture/event.h, can/frame.h, capture/source.h, capture/journal.h)."""
import ctypes
import os

FRAME, LOSS, GAP, CLOCK, CURRENT, MARK, HEADER, DEFECT = range(8)
NO_TIME = -2**63


class Time(ctypes.Structure):
    _fields_ = [("ns", ctypes.c_int64)]


class Error(ctypes.Structure):
    _fields_ = [("text", ctypes.c_char * 512)]


class Frame(ctypes.Structure):
    _fields_ = [("time", ctypes.c_int64), ("id", ctypes.c_uint32), ("length", ctypes.c_uint8),
                ("flags", ctypes.c_uint8), ("raw_dlc", ctypes.c_uint8),
                ("interface", ctypes.c_uint8), ("data", ctypes.c_uint8 * 64)]


class Mark(ctypes.Structure):
    _fields_ = [("time", ctypes.c_int64), ("kind", ctypes.c_int), ("subject", ctypes.c_char_p)]


class Of(ctypes.Union):
    _fields_ = [("frame", Frame), ("microamps", ctypes.c_int64), ("mark", Mark)]


class Event(ctypes.Structure):
    _fields_ = [("kind", ctypes.c_int), ("time", ctypes.c_int64), ("of", Of)]


class Interfaces(ctypes.Structure):
    _fields_ = [("count", ctypes.c_uint), ("names", ctypes.c_char * 16 * 255)]


class Lock(ctypes.Structure):
    _fields_ = [("time", ctypes.c_int64), ("source", ctypes.c_int), ("start", ctypes.c_int64)]


_pointer, _text, _int, _size = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int, ctypes.c_size_t
_error = ctypes.POINTER(Error)
_FUNCTIONS = {
    "nod_version": (_text,),
    "nod_session_open_all": (_pointer, ctypes.POINTER(_text), _size, _error),
    "nod_session_next": (_int, _pointer, ctypes.POINTER(ctypes.POINTER(Event)), _error),
    "nod_session_frames": (_size, _pointer, ctypes.POINTER(_pointer)),
    "nod_session_interfaces": (ctypes.POINTER(Interfaces), _pointer),
    "nod_session_vehicle": (_text, _pointer),
    "nod_session_about": (_text, _pointer, _text),
    "nod_session_lock": (None, _pointer, ctypes.POINTER(Lock)),
    "nod_session_close": (None, _pointer),
    "nod_mark_kind_name": (_text, _int),
    "nod_vehicle_load": (_pointer, _text, _error),
    "nod_vehicle_free": (None, _pointer),
    "nod_engine_new": (_pointer, _pointer, _pointer),
    "nod_engine_free": (None, _pointer),
    "nod_engine_set_lock": (None, _pointer, Time, _int),
    "nod_engine_set_good": (None, _pointer, _pointer),
    "nod_engine_add_earlier": (_int, _pointer, _pointer),
    "nod_engine_take": (_int, _pointer, ctypes.POINTER(Event)),
    "nod_engine_take_frames": (_int, _pointer, _pointer, _size),
    "nod_engine_findings": (_pointer, _pointer),
    "nod_findings_free": (None, _pointer),
    "nod_answer_print_json": (_int, _pointer, _pointer),
}


def _load():
    library = ctypes.CDLL(os.environ.get("NODOFF_LIBRARY", "libnodoff.so.0"), use_errno=True)
    for name, (result, *arguments) in _FUNCTIONS.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    return library


LIBRARY = _load()
LIBC = ctypes.CDLL(None, use_errno=True)
LIBC.open_memstream.restype = ctypes.c_void_p
LIBC.open_memstream.argtypes = [ctypes.POINTER(_pointer), ctypes.POINTER(_size)]
LIBC.fclose.argtypes = LIBC.free.argtypes = [_pointer]


def printed(write):
    """What a function writes to the stream that it is given."""
    text, size = _pointer(), _size()
    stream = LIBC.open_memstream(ctypes.byref(text), ctypes.byref(size))
    if not stream:
        raise MemoryError
    status = write(stream)
    LIBC.fclose(stream)
    try:
        if status:
            raise MemoryError if status == -12 else OSError(-status, os.strerror(-status))
        return ctypes.string_at(text.value, size.value)
    finally:
        LIBC.free(text)
