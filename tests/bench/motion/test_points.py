"""The model's points tell its way whatever it hides; two ways are two things.

The pictures are drawn here with plain numpy, nothing of the renderer or the bench is used.
"""

import numpy as np
import pytest

from outshop.bench.motion.along import choose_going
from outshop.bench.motion.points import find_going
from outshop.bench.motion.still import Sampler, Steadier, Still
from outshop.bench.motion.uncovered import Uncovering
from outshop.errors import MediaError
from outshop.media.video import Frame

H, W = 120, 320
STRIPES = np.where(np.arange(W) // 14 % 2, 180, 110)[None, :].repeat(H, 0).astype(float)
PLAIN = np.full((H, W), 170.0)


def painted(length, seed):
    """A dark block with bright windows."""
    rng = np.random.default_rng(seed)
    block = np.full((26, length), 40.0)
    for _ in range(9):
        x, y = rng.integers(2, length - 9), rng.integers(2, 18)
        block[y : y + 6, x : x + 7] = rng.uniform(90, 240)
    return block


def shown(wall, things, noise_seed):
    picture = wall.copy()
    for block, x, y in things:
        for column in range(max(0, int(x) - 1), min(W, int(x) + block.shape[1] + 2)):
            at = column + 0.5 - x  # part of a pixel by linear blending
            if -0.5 < at < block.shape[1] + 0.5:
                low = int(np.clip(np.floor(at - 0.5), 0, block.shape[1] - 1))
                high = min(low + 1, block.shape[1] - 1)
                part = np.clip(at - 0.5 - low, 0, 1)
                share = np.clip(min(at + 0.5, block.shape[1] + 0.5 - at), 0, 1)
                ink = (1 - part) * block[:, low] + part * block[:, high]
                rows = slice(y, y + len(block))
                picture[rows, column] = (1 - share) * picture[rows, column] + share * ink
    picture += np.random.default_rng(noise_seed).normal(0, 1.5, picture.shape)
    return np.clip(picture, 0, 255).astype(np.uint8)


def learnt(frames):
    sampler = Sampler()
    for frame in frames:
        sampler.add(frame.image)
    return sampler.learn()


def run(wall, ways):
    """Frames in which the model goes each way in turn; also the block."""
    block = painted(90, 3)
    frames = [Frame(i / 30, shown(wall, [(block, x, 60)], i)) for i, x in enumerate(ways)]
    return frames, block


@pytest.mark.parametrize("wall", [STRIPES, PLAIN], ids=["stripes", "plain"])
def test_a_model_that_stands_stops_and_hides_its_wall_is_followed_by_its_points(wall):
    ways = np.concatenate([np.full(12, 30.0), 30 + 4.3 * np.arange(30), np.full(12, 154.7)])
    frames, block = run(wall, ways)
    still = learnt(frames)
    (main, *_) = find_going(frames, still, len(frames))
    told = np.interp(np.arange(len(ways)) / 30, main.t_s, main.x)
    off = told - ways
    assert np.abs(off - np.median(off)).max() < 0.5
    uncovering = Uncovering(main, still)
    assert uncovering.learn(frames, [f.t_s for f in frames])
    cut = uncovering.cut(frames)
    length = cut.sights[20].box.right - cut.sights[20].box.left
    assert length == pytest.approx(block.shape[1], abs=4)
    seen = cut.still.background[60:86, 30:240]
    known = ~cut.still.strange[60:86, 30:240]
    assert known.mean() > 0.6
    assert np.abs(seen[known] - wall[60:86, 30:240][known]).mean() < 4


def test_two_that_go_against_each_other_are_refused_and_either_can_be_picked():
    one, two = painted(80, 3), painted(70, 8)
    frames = [
        Frame(i / 30, shown(STRIPES, [(one, -60 + 5.0 * i, 70), (two, 300 - 5.0 * i, 20)], i))
        for i in range(50)
    ]
    found = find_going(frames, learnt(frames), len(frames))
    with pytest.raises(MediaError, match="two things move"):
        choose_going(found, W, "clip", None)
    right, left = (choose_going(found, W, "clip", point) for point in ((130, 80), (130, 30)))
    assert right.x[-1] > right.x[0]
    assert left.x[-1] < left.x[0]


def test_a_slow_pass_leaves_no_ghost_in_the_background():
    frames, _ = run(PLAIN, -95 + 1.6 * np.arange(170))
    background = learnt(frames).background
    assert np.abs(background - PLAIN).max() < 12


def test_a_models_own_points_over_a_bare_wall_are_no_shake_of_the_camera():
    frames, _ = run(PLAIN, 40 + 0.4 * np.arange(30))
    steadier = Steadier(frames[0].image, "clip")
    for frame in frames:
        assert np.array_equal(steadier.steady(frame.image, frame.t_s), frame.image)
    assert steadier.largest_px == 0


def test_still_pictures_have_nothing_that_goes():
    frames = [Frame(i / 30, shown(STRIPES, [], i)) for i in range(20)]
    still = Still(frames[0].image, 1.5, np.full((H, W), 1.5, np.float32), frames[0].image)
    assert find_going(frames, still, len(frames)) == []
