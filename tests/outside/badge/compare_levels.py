"""Why the codes are of level M: the same text in the same place of a card at each level of correction (ISO/IEC 18004),
in the dots of three printers, spoilt like the codes of check_damage.py and read by the same readers.

A higher level mends more and needs more modules, which become smaller where the place stays. The codes are made by
zxing-cpp, not by us. Writes levels.md beside the samples. Usage: compare_levels.py DIRECTORY
"""

import json
import pathlib
import random
import sys

import zxingcpp
from PIL import Image

from check_damage import CAMERA_DPI, DAMAGES, READERS, SEEDS, read_all
from report import Report

LEVELS = "LMQH"
RESOLUTIONS = (203, 300, 600)
# Side of the code's place on a card, its quiet zone of four modules on each side included.
PLACE_MM = 32.0
QUIET = 4
MM_PER_INCH = 25.4
CODES = 8
# What a worn badge meets; the others are told in damage.md.
SPOILT = ("blur", "perspective", "5 % covered", "rotated, blurred and faint")


def modules_of(text, level):
    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level=level)
    return Image.fromarray(zxingcpp.write_barcode_to_image(code, scale=1, add_quiet_zones=False)).convert("L")


def printed(modules, resolution):
    """The code in whole dots of the printer, as large as its place allows, and the side of a module in millimetres."""
    side = modules.width + 2 * QUIET
    dots = int(PLACE_MM / MM_PER_INCH * resolution) // side
    page = Image.new("L", (side, side), 255)
    page.paste(modules, (QUIET, QUIET))
    scale = dots * CAMERA_DPI / resolution
    seen = round(side * scale)
    inked = page.resize((side * dots, side * dots), Image.Resampling.NEAREST)
    how = Image.Resampling.BOX if scale < dots else Image.Resampling.BICUBIC
    return inked.resize((seen, seen), how), dots * MM_PER_INCH / resolution


def main():
    directory = pathlib.Path(sys.argv[1])
    badges = json.loads((directory / "expected.json").read_text("utf-8"))["badges"]
    # One respirator and several: from the shortest code to the longest.
    texts = sorted((badge["code"] for badge in badges), key=len)
    texts = [texts[place * (len(texts) - 1) // (CODES - 1)] for place in range(CODES)]
    report = Report("levels")
    head = "| level | modules on a side | smallest module | " + " | ".join(READERS) + " |"
    lines = [head, "|---|---|---|" + "---|" * len(READERS)]
    for level in LEVELS:
        symbols = [modules_of(text, level) for text in texts]
        counts, tried, smallest = dict.fromkeys(READERS, 0), 0, PLACE_MM
        for resolution in RESOLUTIONS:
            images, sides = zip(*(printed(symbol, resolution) for symbol in symbols))
            smallest = min(smallest, *sides)
            for damage in SPOILT:
                found, wrong = read_all(images, texts, DAMAGES[damage])
                report.equal(f"{level} at {resolution} dpi, {damage}: read otherwise than printed", wrong, 0)
                counts = {reader: counts[reader] + found[reader] for reader in READERS}
                tried += SEEDS * len(images)
        widths = [symbol.width for symbol in symbols]
        shares = " | ".join(f"{count} of {tried}" for count in counts.values())
        lines.append(f"| {level} | {min(widths)} to {max(widths)} | {smallest:.2f} mm | {shares} |")
    (directory / "levels.md").write_text("\n".join(lines) + "\n", "utf-8")
    report.finish()


if __name__ == "__main__":
    main()
