"""Rasterises badges at the dots of their printer and looks at each dot: every module is a square of whole dots.

pdftoppm stands in for the printer: black or white, no grey. The matrix to compare with is what zxing-cpp reads out of
the same picture, encoded anew by nobody: the dots themselves must repeat in squares. Usage: check_dots.py DIRECTORY
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import zxingcpp
from PIL import Image

from report import Report

FORMAT = zxingcpp.BarcodeFormat.QRCodeModel2
# QR inventor's guidance (fact 7.24): four dots or more to a module. Version 12 and up has no room for them on a card
# at 203 dots per inch; three are said then.
DOTS_WANTED = {203: 3, 300: 4, 600: 4}


def raster(pdf, resolution, folder):
    # Thin lines, which the strokes of a code are to the rasteriser, must not be thickened to be seen.
    command = ["pdftoppm", "-r", str(resolution), "-mono", "-thinlinemode", "none", str(pdf), f"{folder}/p"]
    subprocess.run(command, check=True)
    return sorted(pathlib.Path(folder).glob("p-*.pbm"))


def rows_of(image):
    """True for a dark dot."""
    width, height = image.size
    data = image.convert("L").tobytes()
    return [[data[y * width + x] < 128 for x in range(width)] for y in range(height)]


def symbol_of(rows, position, dots):
    """The square of dark dots around the code: its finder patterns reach its left, upper and lower edge."""
    near = 2 * dots
    xs = [position.top_left.x, position.bottom_left.x, position.top_right.x, position.bottom_right.x]
    ys = [position.top_left.y, position.bottom_left.y, position.top_right.y, position.bottom_right.y]
    left, right = min(xs) - near, max(xs) + near
    top, bottom = min(ys) - near, max(ys) + near
    dark = [
        (x, y)
        for y in range(max(top, 0), min(bottom, len(rows)))
        for x in range(max(left, 0), min(right, len(rows[0])))
        if rows[y][x]
    ]
    return min(x for x, _ in dark), min(y for _, y in dark), max(x for x, _ in dark), max(y for _, y in dark)


def is_of_whole_dots(rows, box, dots):
    left, top, right, bottom = box
    side = right - left + 1
    if side != bottom - top + 1 or side % dots or (side // dots - 17) % 4:
        return False
    for y in range(side):
        for x in range(side):
            corner = rows[top + y - y % dots][left + x - x % dots]
            if rows[top + y][left + x] != corner:
                return False
    return True


def main():
    directory = pathlib.Path(sys.argv[1])
    expected = json.loads((directory / "expected.json").read_text("utf-8"))
    report = Report("dots")
    for sheet in (sheet for sheet in expected["sheets"] if sheet["file"].startswith("grid-")):
        resolution, least = sheet["dots_per_inch"], sheet["module_dots"]
        report.check(
            f"{sheet['file']}: modules of {least} dots or more", least >= DOTS_WANTED[resolution], f"{least} dots"
        )
        smallest = None
        with tempfile.TemporaryDirectory() as folder:
            for page, file in enumerate(raster(directory / sheet["file"], resolution, folder)):
                with Image.open(file) as image:
                    found = zxingcpp.read_barcodes(image.convert("L"), formats=FORMAT)
                    rows = rows_of(image)
                report.equal(f"{sheet['file']}: codes on page {page + 1}", len(found), 1)
                if not found:
                    continue
                fitting = []
                for dots in range(2, 14):
                    box = symbol_of(rows, found[0].position, dots)
                    if is_of_whole_dots(rows, box, dots):
                        fitting.append(dots)
                report.check(f"{sheet['file']}: page {page + 1}: a whole number of dots", bool(fitting))
                if fitting:
                    smallest = min(smallest or max(fitting), max(fitting))
        report.equal(f"{sheet['file']}: the smallest module seen is the one told", smallest, least)
    report.finish()


if __name__ == "__main__":
    main()
