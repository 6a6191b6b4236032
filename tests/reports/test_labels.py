"""Labels: an independent reader reads the printed code; any text prints; nonsense is told."""

import io
import shutil
import subprocess

import cv2
import numpy as np
import pytest
from pypdf import PdfReader

from outshop.errors import InputError
from outshop.reports.labels import Label, label_sheet

ADDRESS = "http://192.168.1.20:8642/ran/a30dc725-a620-429f-ac4a-92501dd073f6/"


def test_the_printed_code_is_read_by_an_independent_reader(tmp_path):
    """OpenCV's QR reader on the sheet as a printer would render it."""
    if not shutil.which("pdftoppm"):
        pytest.skip("pdftoppm is not here to render the sheet")
    file = tmp_path / "sheet.pdf"
    file.write_bytes(label_sheet([Label("Skerry No. 7", ("H0",), ADDRESS)]))
    command = ["pdftoppm", "-r", "200", "-png", "-singlefile", str(file), str(tmp_path / "sheet")]
    subprocess.run(command, check=True, timeout=60)
    picture = cv2.imread(str(tmp_path / "sheet.png"))
    read, _, _ = cv2.QRCodeDetector().detectAndDecode(picture[:500, :1000].astype(np.uint8))
    assert read == ADDRESS


def test_twenty_four_fit_a_sheet_and_the_same_labels_print_the_same_bytes():
    labels = [Label(f"Bag {n}", ("left",), ADDRESS) for n in range(25)]
    first, second = label_sheet(labels), label_sheet(labels)
    assert first == second
    assert len(PdfReader(io.BytesIO(first)).pages) == 2
    assert len(PdfReader(io.BytesIO(label_sheet(labels[:24]))).pages) == 1


@pytest.mark.parametrize("words", ["", "W" * 400, '#panic() $x$ "', "Паровоз 日本 🚂 \ud800\x00"])
def test_any_text_prints(words):
    assert label_sheet([Label(words, (words,))]).startswith(b"%PDF")


def test_nothing_and_far_too_much_are_told():
    with pytest.raises(InputError, match="nothing to put on labels"):
        label_sheet([])
    with pytest.raises(InputError, match="2401 labels are more than a hundred sheets"):
        label_sheet([Label("x")] * 2401)
