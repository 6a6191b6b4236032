"""Walks through a clip as a still camera would have taken it; decoded twice only if it must be."""

from collections.abc import Iterator

from outshop.bench.motion.footage import Footage, check_light, check_times
from outshop.bench.motion.replay import Replay
from outshop.bench.motion.still import Sampler, Steadier, Still
from outshop.errors import MediaError
from outshop.media.video import Frame


class Walks:
    """Steady frames of a clip, and what was learnt on the first walk.

    Parameters
    ----------
    footage : Footage
        The clip.

    Raises
    ------
    MediaError
        No picture, one frame, no clock, black, a moving camera.
    """

    def __init__(self, footage: Footage) -> None:
        self.footage = footage
        self._replay = Replay()
        self._steadier: Steadier | None = None
        self._times: list[float] = []
        self.still = self._survey()

    @property
    def shake_px(self) -> float:
        """Largest shift of the camera that was taken out, in working pixels."""
        return self._steadier.largest_px if self._steadier else 0.0

    @property
    def quick(self) -> bool:
        """Another walk costs no decoding."""
        return self._replay.whole

    @property
    def times_s(self) -> list[float]:
        """Times of all frames, known after a whole walk."""
        return self._times

    def frames(self) -> Iterator[Frame]:
        """Walk again; the times grow, a picture is the caller's own until the next one."""
        last = float("-inf")
        source = self._replay.frames() if self._replay.whole else self._decoded()
        for frame in source:
            if frame.t_s > last:
                yield frame
                last = frame.t_s

    def _decoded(self) -> Iterator[Frame]:
        """Decode all frames and steady them; note their times."""
        times = []
        for frame in self.footage.frames():
            if self._steadier is None:
                self._steadier = Steadier(frame.image, self.footage.name)
            times.append(frame.t_s)
            yield Frame(frame.t_s, self._steadier.steady(frame.image, frame.t_s))
        self._times = times

    def _survey(self) -> Still:
        """Learn the background in a first walk."""
        sampler = Sampler()
        for frame in self._first_walk():
            sampler.add(frame.image)
        if self._steadier is None:
            raise MediaError(
                f"{self.footage.name} holds no picture that can be decoded: record again"
            )
        check_times(self._times, self.footage.name)
        check_light(sampler.brightest, self.footage.name)
        return sampler.learn()

    def _first_walk(self) -> Iterator[Frame]:
        keys = self.footage.key_frames() if self.footage.is_long else []
        if keys:
            self._replay.forget()
            self._steadier = Steadier(keys[0].image, self.footage.name)
            self._times = [key.t_s for key in keys]
            for key in keys:
                yield Frame(key.t_s, self._steadier.steady(key.image, key.t_s))
            return
        for frame in self._decoded():
            self._replay.add(frame.t_s, frame.image)
            yield frame
