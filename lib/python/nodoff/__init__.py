# SPDX-License-Identifier: MIT
"""Recordings of the CAN networks of a parked car: read them, and what keeps it awake.

    import nodoff

    answer = nodoff.judge("captures/holder-autosar")
    print(answer.verdict, answer.sentence)
    answer.assert_sleeps_within(60)

    with nodoff.Session("frames.log") as session:
        for frames in session.frames():      # as many as were read at once, not copied
            print(frames["id"] & 0x1FFFFFFF, frames["time"])

Each batch of frames is a numpy array of records (DTYPE), or without numpy a memoryview of
records of RECORD bytes each; it lies in the memory of the library and is good until the next
one: copy() what has to stay. Times are whole nanoseconds. What cannot be read raises Unreadable.

Needs libnodoff.so.0; NODOFF_LIBRARY names another. One thread at a time for each session."""
import ctypes
import json
import os
from collections import namedtuple

from . import _library as lib

try:
    import numpy
except ImportError:
    numpy = None

__all__ = ["Answer", "DTYPE", "Mark", "RECORD", "Sample", "Session", "Unreadable", "judge", "version"]

# One frame: time in ns, ID with the flags of linux/can.h, bytes of payload, flags (1 BRS, 2 ESI,
# 4 CAN FD, 16 sent, 32 received), raw DLC, index of the interface, payload.
DTYPE = [("time", "<i8"), ("id", "<u4"), ("length", "u1"), ("flags", "u1"), ("raw_dlc", "u1"),
         ("interface", "u1"), ("data", "u1", 64)]
RECORD = ctypes.sizeof(lib.Frame)
_FROM_OPTION = 3 # enum nod_lock_source

Mark = namedtuple("Mark", "time kind subject")
Sample = namedtuple("Sample", "time microamps")


class Unreadable(OSError):
    """An input that cannot be read; the text says which and why."""


def version():
    return lib.LIBRARY.nod_version().decode()


def _paths(paths):
    return [os.fsencode(path) for path in paths]


def _batch(address, count):
    memory = (ctypes.c_char * (count * RECORD)).from_address(address)
    if numpy is None:
        return memoryview(memory).toreadonly()
    frames = numpy.frombuffer(memory, DTYPE)
    frames.flags.writeable = False
    return frames


class Session:
    """A session directory, or captures merged by time: read once, from the beginning."""

    def __init__(self, *paths):
        error = lib.Error()
        names = _paths(paths)
        self._handle = lib.LIBRARY.nod_session_open_all(
            (ctypes.c_char_p * len(names))(*names), len(names), ctypes.byref(error))
        if not self._handle:
            raise Unreadable(error.text.decode(errors="replace"))

    def close(self):
        if self._handle:
            lib.LIBRARY.nod_session_close(self._handle)
            self._handle = None

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    __del__ = close

    @property
    def interfaces(self):
        """The names of those that were heard so far; frames carry the index."""
        table = lib.LIBRARY.nod_session_interfaces(self._handle).contents
        return [table.names[i].value.decode(errors="replace") for i in range(table.count)]

    @property
    def vehicle(self):
        """The path of its own map, or None."""
        path = lib.LIBRARY.nod_session_vehicle(self._handle)
        return os.fsdecode(path) if path else None

    @property
    def lock(self):
        """When the car was locked, as far as is known by now; None: not yet."""
        lock = lib.Lock()
        lib.LIBRARY.nod_session_lock(self._handle, ctypes.byref(lock))
        return None if lock.time == lib.NO_TIME else lock.time

    def about(self, key):
        """A line of session.txt or a header of the capture; None: there is none."""
        value = lib.LIBRARY.nod_session_about(self._handle, key.encode())
        return value.decode(errors="replace") if value is not None else None

    def _events(self, take=None, take_frames=None):
        """Addresses of events (kind, event) and of frames (None, address, count)."""
        event, error, more = ctypes.POINTER(lib.Event)(), lib.Error(), ctypes.c_void_p()
        handle, at, where, why = self._handle, ctypes.byref(event), ctypes.byref(more), ctypes.byref(error)
        step, step_frames = lib.LIBRARY.nod_session_next, lib.LIBRARY.nod_session_frames
        while (status := step(handle, at, why)) > 0:
            found = event.contents
            yield found, event, 1
            if found.kind != lib.FRAME:
                continue
            while count := step_frames(handle, where):
                yield None, more.value, count
        if status < 0:
            raise Unreadable(error.text.decode(errors="replace"))

    def events(self):
        """Batches of frames, Sample and Mark, in the order of time."""
        for event, address, count in self._events():
            if event is None:
                yield _batch(address, count)
            elif event.kind == lib.FRAME:
                yield _batch(ctypes.addressof(event.of.frame), 1)
            elif event.kind == lib.CURRENT:
                yield Sample(event.time, event.of.microamps)
            elif event.kind == lib.MARK:
                kind = lib.LIBRARY.nod_mark_kind_name(event.of.mark.kind).decode()
                yield Mark(event.time, kind, (event.of.mark.subject or b"").decode(errors="replace"))

    def frames(self):
        """Batches of frames only."""
        return (item for item in self.events() if not isinstance(item, (Sample, Mark)))


class _Judged:
    """A recording run through the engine, and what keeps its findings alive."""

    def __init__(self, paths, vehicle=None, locked=None, good=None, earlier=()):
        self.engine = self.findings = self.vehicle = None
        self.others = [good, *earlier]
        self.session = Session(*paths)
        try:
            self._run(vehicle or self.session.vehicle, locked, good, earlier)
        except BaseException:
            self.close()
            raise

    def _run(self, vehicle, locked, good, earlier):
        error = lib.Error()
        if vehicle:
            self.vehicle = lib.LIBRARY.nod_vehicle_load(os.fsencode(vehicle), ctypes.byref(error))
            if not self.vehicle:
                raise Unreadable(error.text.decode(errors="replace"))
        self.engine = lib.LIBRARY.nod_engine_new(
            self.vehicle, ctypes.cast(lib.LIBRARY.nod_session_interfaces(self.session._handle),
                                      ctypes.c_void_p))
        if not self.engine:
            raise MemoryError
        lib.LIBRARY.nod_engine_set_good(self.engine, good.findings if good else None)
        for other in earlier:
            lib.LIBRARY.nod_engine_add_earlier(self.engine, other.findings)
        if locked is not None:
            lib.LIBRARY.nod_engine_set_lock(self.engine, lib.Time(locked), _FROM_OPTION)
        self._take_all()
        self.findings = lib.LIBRARY.nod_engine_findings(self.engine)
        if not self.findings:
            raise MemoryError

    def _take_all(self):
        engine, take = self.engine, lib.LIBRARY.nod_engine_take
        take_frames = lib.LIBRARY.nod_engine_take_frames
        for event, address, count in self.session._events():
            status = (take(engine, address) if event is not None
                      else take_frames(engine, address, count))
            if status == -12:
                raise MemoryError

    def json(self):
        return json.loads(lib.printed(
            lambda stream: lib.LIBRARY.nod_answer_print_json(stream, self.findings)))

    def close(self):
        lib.LIBRARY.nod_findings_free(self.findings)
        lib.LIBRARY.nod_engine_free(self.engine)
        lib.LIBRARY.nod_vehicle_free(self.vehicle)
        self.findings = self.engine = self.vehicle = None
        self.session.close()


def _ns(text):
    """Nanoseconds of "1700000000.123456789"; None for null."""
    if text is None:
        return None
    whole, _, fraction = text.partition(".")
    return int(whole) * 10**9 + int(fraction.ljust(9, "0")[:9]) * (-1 if text[0] == "-" else 1)


class Answer(dict):
    """What nodoff says of a recording: the object that schema/analyse.json describes."""

    @property
    def verdict(self):
        return self["verdict"]

    @property
    def sentence(self):
        return self["sentence"]

    @property
    def culprits(self):
        return self["culprits"]

    def awake_after(self, seconds):
        """Why it cannot be said that all networks slept so long after the lock, and stayed
        asleep, a sentence for each network; empty when they did."""
        due = _ns(self["lock"]["time"]) + round(seconds * 1e9)
        faults = []
        for network in self["networks"]:
            name, spans = network["name"], network["spans"]
            before = [span for span in spans if _ns(span["from"]) <= due]
            if not spans:
                if len(self["networks"]) == 1:
                    faults.append(f"{name}: nothing was heard")
            elif before and _ns(before[-1]["to"]) >= due:
                faults.append(f"{name}: still awake {seconds:g} s after the lock")
            elif before and not before[-1]["slept_after"]:
                faults.append(f"{name}: whether the silence after its last frame was sleep is not "
                              "known")
            elif network["wakes"]:
                faults.append(f"{name}: slept, but was woken again {network['wakes']} times")
            elif len(before) < len(spans) and not network["wakes_explained"]:
                faults.append(f"{name}: was heard later than {seconds:g} s after the lock")
        if _ns(self["recording"]["end"]) < due:
            faults.append(f"the recording ends before {seconds:g} s after the lock")
        return faults

    def assert_sleeps_within(self, seconds):
        faults = self.awake_after(seconds)
        if faults:
            raise AssertionError("; ".join(faults) + ". nodoff: " + self.sentence)


def judge(*paths, vehicle=None, locked=None, good=None, earlier=()):
    """Judges a session or captures as `nodoff analyse` does: the same engine, the same answer.

    vehicle: your map (else the session's own); locked: when the car was locked, in nanoseconds
    (else as the recording says); good: a recording that slept well; earlier: recordings of this
    car in which something was isolated."""
    others = []
    try:
        for path in [*([good] if good else []), *earlier]:
            others.append(_Judged([path], vehicle))
        judged = _Judged(paths, vehicle, locked, others[0] if good else None,
                         others[1 if good else 0:])
        try:
            return Answer(judged.json())
        finally:
            judged.close()
    finally:
        for other in others:
            other.close()
