"""Pages as another program draws them, and the codes another program reads from them."""

import subprocess
from pathlib import Path

import zxingcpp
from PIL import Image

DOTS_PER_INCH = 300
"""What an ordinary office printer has at least."""


def pictures_of(pdf: bytes, folder: Path, *, dots_per_inch: int = DOTS_PER_INCH) -> list[Image.Image]:
    """Return each page in greys."""
    (folder / "paper.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(dots_per_inch), "-gray", "paper.pdf", "page"]
    subprocess.run(command, cwd=folder, check=True)
    pictures = []
    for file in sorted(folder.glob("page-*.pgm")):
        with Image.open(file) as page:
            pictures.append(page.copy())
        file.unlink()
    return pictures


def codes_in(picture: Image.Image) -> list[str]:
    """Return the texts of every Data Matrix on a page, sorted."""
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.DataMatrix))
    return sorted(code.text for code in found)
