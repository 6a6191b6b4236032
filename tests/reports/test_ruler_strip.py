"""The printed ruler: its markers are found on the rendered sheet by OpenCV, where it says."""

import io
import shutil
import subprocess

import cv2
import numpy as np
import pytest
from pypdf import PdfReader

from outshop.reports.ruler_strip import ruler_sheet

DOTS = 300 / 25.4  # for one mm
# as the sheet's own words say: first number, count, side and distance of equal edges in mm
SAID = {"A": (0, 7, 25.0, 40.0), "B": (10, 11, 15.0, 25.0), "C": (24, 17, 10.0, 16.0)}


@pytest.fixture(name="paper", scope="module")
def _paper(tmp_path_factory):
    """The sheet as a printer would render it, in grey."""
    if not shutil.which("pdftoppm"):
        pytest.skip("pdftoppm is not here to render the sheet")
    folder = tmp_path_factory.mktemp("ruler")
    (folder / "ruler.pdf").write_bytes(ruler_sheet())
    command = ["pdftoppm", "-r", "300", "-png", "-gray", "-singlefile", "ruler.pdf", "page"]
    subprocess.run(command, check=True, timeout=60, cwd=folder)
    return cv2.imread(str(folder / "page.png"), cv2.IMREAD_GRAYSCALE)


def test_every_marker_is_found_with_the_side_and_distance_that_the_sheet_says(paper):
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, how).detectMarkers(paper)
    found = {int(n): q.reshape(4, 2) / DOTS for n, q in zip(numbers.ravel(), corners, strict=True)}
    assert sorted(found) == [
        n for first, count, *_ in SAID.values() for n in range(first, first + count)
    ]
    for first, count, side, pitch in SAID.values():
        row = np.array([found[n] for n in range(first, first + count)])
        assert np.diff(row[:, 0, 0]) == pytest.approx(pitch, abs=0.06)
        assert row[-1, 0, 0] - row[0, 0, 0] == pytest.approx((count - 1) * pitch, abs=0.06)
        assert row[:, 1, 0] - row[:, 0, 0] == pytest.approx(side, abs=0.12)
        assert row[:, 3, 1] - row[:, 0, 1] == pytest.approx(side, abs=0.12)
        assert np.ptp(row[:, 0, 1]) < 0.06


def test_the_control_line_is_100_mm_long(paper):
    runs = []
    for row in paper[: round(60 * DOTS)] < 128:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], row, [0]])))
        runs.append(max(np.diff(edges)[::2], default=0))
    # the strokes at both ends are 0.25 mm wide and stand with their middles on the ends
    assert max(runs) / DOTS == pytest.approx(100.25, abs=0.2)


def test_one_sheet_of_a4_in_vector_shapes_and_the_same_bytes_each_time():
    sheet = ruler_sheet()
    assert sheet == ruler_sheet()
    (page,) = PdfReader(io.BytesIO(sheet)).pages
    size = [float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height)]
    assert size == pytest.approx([297, 210], abs=0.1)  # ISO 216
    assert not list(page.images)
    words = " ".join(page.extract_text().split())
    assert "must measure exactly 100 mm" in words
    assert "in the plane of the model" in words
