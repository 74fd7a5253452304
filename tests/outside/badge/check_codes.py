"""Rasterises every sheet with pdftoppm and reads every code with two readers, byte for byte.

zbarimg and zxing-cpp each look at the whole page image, as a camera would. Usage: check_codes.py DIRECTORY
"""

import json
import pathlib
import subprocess
import sys
import tempfile
from collections import Counter

import zxingcpp
from PIL import Image

from report import Report

# An office printer's dots and fewer: a module of 0.4 mm is 4.7 dots, then 3.1.
RESOLUTIONS = (300, 200)


def rasterise(pdf, resolution, folder):
    subprocess.run(["pdftoppm", "-r", str(resolution), "-gray", str(pdf), f"{folder}/p"], check=True)
    return sorted(pathlib.Path(folder).glob("p-*.pgm"))


def read_by_zbar(image):
    command = ["zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", str(image)]
    done = subprocess.run(command, capture_output=True, check=False)
    return done.stdout.decode("utf-8").splitlines()


# A badge carries a QR code proper. Asked for the whole family, the reader now and then takes a finder pattern for a
# Micro QR code of the smallest size, which has no error correction, and reads a few digits out of it.
FORMAT = zxingcpp.BarcodeFormat.QRCodeModel2


def read_by_zxing(image):
    with Image.open(image) as opened:
        found = zxingcpp.read_barcodes(opened, formats=FORMAT)
    return [barcode.bytes.decode("utf-8") for barcode in found]


READERS = (("zbarimg", read_by_zbar), ("zxing-cpp", read_by_zxing))


def check_sheet(report, directory, sheet, codes, resolution):
    per_page = len(sheet["boxes_mm"])
    with tempfile.TemporaryDirectory() as folder:
        images = rasterise(directory / sheet["file"], resolution, folder)
        first = sheet["first_place"]
        pages = -(-(first + len(codes)) // per_page)
        report.equal(f"{sheet['file']}: pages", len(images), pages)
        for reader, read in READERS:
            right = 0
            wrong = []
            for page, image in enumerate(images):
                here = slice(max(page * per_page - first, 0), (page + 1) * per_page - first)
                wanted = Counter(codes[here])
                found = Counter(read(image))
                right += (wanted & found).total()
                wrong += list((found - wanted).elements())
            name = f"{sheet['file']} at {resolution} dpi by {reader}: {right} of {len(codes)} codes byte for byte"
            report.check(name, right == len(codes) and not wrong, f"{len(wrong)} read that were not printed")


def main():
    directory = pathlib.Path(sys.argv[1])
    expected = json.loads((directory / "expected.json").read_text("utf-8"))
    report = Report("codes")
    for sheet in expected["sheets"]:
        codes = [badge["code"] for badge in expected["badges"][: sheet["badges"]]]
        # A sheet for the dots of one printer is seen as that printer puts it on paper; a raster of nearly the same
        # pitch would beat against it, which no camera's does.
        for resolution in (sheet["dots_per_inch"],) if sheet["file"].startswith("grid-") else RESOLUTIONS:
            check_sheet(report, directory, sheet, codes, resolution)
    report.finish()


if __name__ == "__main__":
    main()
