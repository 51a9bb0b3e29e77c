"""One device of the desktop's sound server (PulseAudio, or PipeWire in its place), and no other.

A server moves the sound of a device that vanishes to whatever is left: a tone meant for an
earphone comes out of a loudspeaker, and a microphone goes on as another one. ALSA's way to the
server cannot forbid that, so streams are opened here with the server's own library, under the
device's name and with the flag that forbids the move. When the device goes, the stream ends.

Nothing here waits for a server that hangs longer than ANSWER_S.
"""

from __future__ import annotations

import ctypes
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from types import SimpleNamespace
from typing import Any, Literal

import numpy as np

from voicelog.audio.resampling import Samples

__all__ = ["PinnedPortAudio", "SoundServerError", "SoundServerStream"]

ANSWER_S = 2.0
"""Seconds in which a server has to answer."""
TURN_S = 0.005
"""Seconds between two looks at what the server wants."""
BLOCK_S = 0.05
"""Seconds of sound that a microphone brings at a time, and that an earphone starts with."""
LATENCY_S = 0.1
"""Seconds of sound that wait to be played."""

Way = Literal["in", "out"]

_THROUGH_SERVER = frozenset({"default", "pulse", "pipewire"})
"""Names of PortAudio's devices behind which ALSA finds the server."""
_NO_AUTOSPAWN, _FLOAT32 = 0x1, 5
_DONT_MOVE, _ADJUST_LATENCY = 0x0200, 0x2000
_CONTEXT_READY, _STREAM_READY = 4, 2
_ANY, _FAILED = 0xFFFFFFFF, ctypes.c_size_t(-1).value


class SoundServerError(Exception):
    """The server, or the device, is not there or went away."""


class NoSoundServerError(SoundServerError):
    """There is no sound server to ask."""


class _Spec(ctypes.Structure):
    _fields_ = (("format", ctypes.c_int), ("rate", ctypes.c_uint32), ("channels", ctypes.c_uint8))


class _Buffer(ctypes.Structure):
    _fields_ = tuple(
        (name, ctypes.c_uint32) for name in ("maxlength", "tlength", "prebuf", "minreq", "fragsize")
    )


@cache
def _library() -> Any:
    """libpulse; None where it is not there."""
    if sys.platform != "linux":
        return None
    try:
        library = ctypes.CDLL("libpulse.so.0")
    except OSError:
        return None
    pointer, text, size = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_size_t
    for name, result, *arguments in (
        ("mainloop_new", pointer),
        ("mainloop_get_api", pointer, pointer),
        ("mainloop_iterate", ctypes.c_int, pointer, ctypes.c_int, pointer),
        ("mainloop_free", None, pointer),
        ("context_new", pointer, pointer, text),
        ("context_connect", ctypes.c_int, pointer, text, ctypes.c_int, pointer),
        ("context_get_state", ctypes.c_int, pointer),
        ("context_errno", ctypes.c_int, pointer),
        ("context_is_pending", ctypes.c_int, pointer),
        ("context_disconnect", None, pointer),
        ("context_unref", None, pointer),
        ("strerror", text, ctypes.c_int),
        ("stream_new", pointer, pointer, text, pointer, pointer),
        (
            "stream_connect_playback",
            ctypes.c_int,
            pointer,
            text,
            pointer,
            ctypes.c_int,
            *2 * [pointer],
        ),
        ("stream_connect_record", ctypes.c_int, pointer, text, pointer, ctypes.c_int),
        ("stream_get_state", ctypes.c_int, pointer),
        ("stream_get_device_name", text, pointer),
        ("stream_writable_size", size, pointer),
        ("stream_write", ctypes.c_int, pointer, text, size, pointer, ctypes.c_int64, ctypes.c_int),
        ("stream_readable_size", size, pointer),
        ("stream_peek", ctypes.c_int, pointer, pointer, pointer),
        ("stream_drop", ctypes.c_int, pointer),
        ("stream_disconnect", ctypes.c_int, pointer),
        ("stream_unref", None, pointer),
    ):
        function = getattr(library, f"pa_{name}")
        function.restype, function.argtypes = result, arguments
    return library


class SoundServerStream:
    """Sound to or from one device, `device` (its name; for None the server's default, by name
    from then on). Rates are in Hz; samples float32 of shape (n, channels).

    With a `callback` as PortAudio's it reads in a thread of its own; the thread ends with the
    device. Raises SoundServerError.
    """

    def __init__(
        self,
        way: Way,
        device: str | None,
        *,
        rate: int,
        channels: int,
        callback: Callable[..., None] | None = None,
    ) -> None:
        self._pa = _library()
        if self._pa is None:
            raise NoSoundServerError("libpulse is missing")
        self._channels, self._frame = channels, 4 * channels
        self._callback = callback
        self._lock = threading.RLock()
        self._ending = False
        self._stream = self._context = None
        self._played_s = 0.0
        self._thread: threading.Thread | None = None
        self._loop = self._pa.pa_mainloop_new()
        try:
            self._connect()
            self._open(way, device, rate)
        except SoundServerError:
            self._free()
            raise
        self.device: str = self._name()

    def start(self) -> None:
        """Begin to read, where there is a callback."""
        if self._callback is not None:
            self._thread = threading.Thread(target=self._read, name="server", daemon=True)
            self._thread.start()

    def check(self) -> None:
        """SoundServerError when the device is not there any more."""
        with self._lock:
            self._check()

    def write(self, data: Samples) -> None:
        """Play it; back when all of it is with the server."""
        rest = np.ascontiguousarray(data, np.float32).tobytes()
        with self._lock:
            until_s = time.monotonic() + ANSWER_S
            while rest:
                self._check()
                room = self._pa.pa_stream_writable_size(self._stream)
                count = 0 if room == _FAILED else min(room - room % self._frame, len(rest))
                if count:
                    self._pa.pa_stream_write(self._stream, rest[:count], count, None, 0, 0)
                    rest, until_s = rest[count:], time.monotonic() + ANSWER_S
                elif time.monotonic() > until_s:
                    raise SoundServerError("the sound server takes no sound")
                else:
                    time.sleep(TURN_S)
            while self._pa.pa_context_is_pending(self._context):
                self._check()
                if time.monotonic() > until_s:
                    raise SoundServerError("the sound server takes no sound")
                time.sleep(TURN_S)
            self._played_s = time.monotonic() + LATENCY_S

    def close(self, ignore_errors: bool = True) -> None:
        """Let what was written sound, and let go; nothing is called afterwards."""
        self._ending = True
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join(timeout=ANSWER_S)
        with self._lock:
            with suppress(SoundServerError):
                while time.monotonic() < self._played_s:
                    self._check()
                    time.sleep(TURN_S)
            self._free()

    # --- within --------------------------------------------------------------------------

    def _connect(self) -> None:
        pa = self._pa
        self._context = pa.pa_context_new(pa.pa_mainloop_get_api(self._loop), b"voicelog")
        if pa.pa_context_connect(self._context, None, _NO_AUTOSPAWN, None) < 0:
            raise NoSoundServerError(self._reason())
        try:
            self._wait(lambda: pa.pa_context_get_state(self._context), _CONTEXT_READY)
        except SoundServerError as error:
            if pa.pa_context_get_state(self._context) > _CONTEXT_READY:
                raise NoSoundServerError(str(error)) from error
            raise

    def _open(self, way: Way, device: str | None, rate: int) -> None:
        pa = self._pa
        spec = _Spec(_FLOAT32, rate, self._channels)
        self._stream = pa.pa_stream_new(self._context, way.encode(), ctypes.byref(spec), None)
        if not self._stream:
            raise SoundServerError(self._reason())
        size, block = round(LATENCY_S * rate) * self._frame, round(BLOCK_S * rate) * self._frame
        buffer = _Buffer(_ANY, size, self._frame * round(0.01 * rate), _ANY, block)
        flags, name = _DONT_MOVE | _ADJUST_LATENCY, device.encode() if device else None
        if way == "out":
            refused = pa.pa_stream_connect_playback(
                self._stream, name, ctypes.byref(buffer), flags, None, None
            )
        else:
            refused = pa.pa_stream_connect_record(self._stream, name, ctypes.byref(buffer), flags)
        if refused < 0:
            raise SoundServerError(self._reason())
        self._wait(lambda: pa.pa_stream_get_state(self._stream), _STREAM_READY)
        if device is not None and self._name() != device:
            raise SoundServerError(f"{device} is gone")

    def _wait(self, state: Callable[[], int], ready: int) -> None:
        """Until a context or a stream is ready; the states beyond that are failures."""
        until_s = time.monotonic() + ANSWER_S
        while (now := state()) != ready:
            if now > ready:
                raise SoundServerError(self._reason())
            if time.monotonic() > until_s:
                raise SoundServerError("the sound server does not answer")
            self._turn()
            time.sleep(TURN_S / 5)

    def _turn(self) -> None:
        """Take and give what the server has and wants, without waiting."""
        while self._pa.pa_mainloop_iterate(self._loop, 0, None) > 0:
            pass

    def _check(self) -> None:
        if not self._loop:
            raise SoundServerError("it was let go")
        self._turn()
        if self._pa.pa_context_get_state(self._context) != _CONTEXT_READY:
            raise SoundServerError("the sound server is gone")
        if self._pa.pa_stream_get_state(self._stream) != _STREAM_READY:
            raise SoundServerError(f"{self.device} is gone")
        if self._name() != self.device:
            raise SoundServerError(f"{self.device} is gone, the sound server took {self._name()}")

    def _name(self) -> str:
        return (self._pa.pa_stream_get_device_name(self._stream) or b"").decode(errors="replace")

    def _reason(self) -> str:
        code = self._pa.pa_context_errno(self._context)
        return (self._pa.pa_strerror(code) or b"refused").decode(errors="replace")

    def _read(self) -> None:
        assert self._callback is not None  # `start` has looked
        while not self._ending:
            with self._lock:
                try:
                    self._check()
                except SoundServerError:
                    return  # no sound comes any more, which whoever watches it sees
                blocks = list(self._blocks())
            for sound, lost in blocks:
                self._callback(sound, len(sound), None, SimpleNamespace(input_overflow=lost))
            time.sleep(TURN_S)

    def _blocks(self) -> Any:
        """What the device has brought, with whether some before it was lost."""
        pa, lost = self._pa, False
        data, size = ctypes.c_void_p(), ctypes.c_size_t()
        while 0 < pa.pa_stream_readable_size(self._stream) < _FAILED:
            pa.pa_stream_peek(self._stream, ctypes.byref(data), ctypes.byref(size))
            if not size.value:
                return
            if data.value:
                raw = ctypes.string_at(data.value, size.value)
                yield np.frombuffer(raw, np.float32).reshape(-1, self._channels), lost
            lost = not data.value
            pa.pa_stream_drop(self._stream)

    def _free(self) -> None:
        pa, loop = self._pa, self._loop
        if self._stream:
            pa.pa_stream_disconnect(self._stream)
            pa.pa_stream_unref(self._stream)
        if self._context:
            if loop:
                self._turn()
            pa.pa_context_disconnect(self._context)
            pa.pa_context_unref(self._context)
        if loop:
            pa.pa_mainloop_free(loop)
        self._stream = self._context = self._loop = None


class PinnedPortAudio:
    """PortAudio (the sounddevice module), but what would go through the sound server is held
    to the device that it began with."""

    def __init__(self, library: Any) -> None:
        self._library = library
        self._held: dict[Way, str] = {}

    def __getattr__(self, name: str) -> Any:
        return getattr(self._library, name)

    def InputStream(self, **options: Any) -> Any:  # noqa: N802 - PortAudio's name
        """As sounddevice's."""
        return self._stream("in", self._library.InputStream, options)

    def OutputStream(self, **options: Any) -> Any:  # noqa: N802 - PortAudio's name
        """As sounddevice's."""
        return self._stream("out", self._library.OutputStream, options)

    def _stream(self, way: Way, otherwise: Callable[..., Any], options: dict[str, Any]) -> Any:
        name = self._library.query_devices()[options["device"]]["name"]
        if name not in _THROUGH_SERVER:
            return otherwise(**options)
        held = self._held.get(way)
        try:
            stream = SoundServerStream(
                way,
                held,
                rate=round(options["samplerate"]),
                channels=options["channels"],
                callback=options.get("callback"),
            )
        except NoSoundServerError as error:
            if held is None:  # ALSA goes to the device itself
                return otherwise(**options)
            raise self._library.PortAudioError(f"{held} is gone ({error})") from error
        except SoundServerError as error:
            raise self._library.PortAudioError(
                f"{held} is gone ({error})" if held else str(error)
            ) from error
        self._held[way] = stream.device
        return stream
