"""Reads names and serials back with pdftotext, letter for letter, and measures pages with pdfinfo.

A name may be broken over lines, so line ends and spaces are not compared; every other character is, in the
order of the name. Usage: check_text.py DIRECTORY
"""

import json
import pathlib
import re
import subprocess
import sys
import unicodedata
from collections import Counter

from report import Report

# ISO/IEC 7810, ID-1 (fact 7.23), in mm.
ID_1_MM = (85.60, 53.98)
# pdfinfo prints thousandths of a point; half a hundredth of a mm is far below any cutter's tolerance.
TOLERANCE_MM = 0.005
# Fine enough that rounding a box to whole dots moves no text across its edge.
DOTS_PER_MM = 10
# Direction marks that pdftotext adds around right-to-left text.
DIRECTION_MARKS = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def is_right_to_left(text):
    return any(unicodedata.bidirectional(character) in ("R", "AL") for character in text)


def text_of(pdf, page, box, order):
    """The text within one badge: left, top, width, height in mm."""
    left, top, width, height = (round(length * DOTS_PER_MM) for length in box)
    place = ["-r", str(DOTS_PER_MM * 25.4), "-x", str(left), "-y", str(top), "-W", str(width), "-H", str(height)]
    command = ["pdftotext", *order, "-enc", "UTF-8", "-f", str(page), "-l", str(page), *place, str(pdf), "-"]
    return subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")


def letters(text):
    return unicodedata.normalize("NFC", "".join(DIRECTION_MARKS.sub("", text).split()))


def has_marks(text):
    return any(unicodedata.combining(character) for character in unicodedata.normalize("NFC", text))


def check_name(report, label, name, text):
    if is_right_to_left(name) and has_marks(name):
        # pdftotext tears vowel marks of right-to-left text from their letters, whoever made the page: here the
        # letters and marks are counted; their order is checked on the names without marks.
        wanted, found = (Counter(unicodedata.normalize("NFD", letters(t))) for t in (name, text))
        report.check(f"{label} (letters and marks counted)", wanted <= found, f"found {text!r}")
    else:
        report.check(label, letters(name) in letters(text), f"found {text!r}")


def page_sizes_mm(pdf, pages):
    command = ["pdfinfo", "-f", "1", "-l", str(pages), str(pdf)]
    lines = subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")
    sizes = re.findall(r"^Page +\d+ size: +([\d.]+) x ([\d.]+) pts", lines, re.MULTILINE)
    return [(float(width) * 25.4 / 72, float(height) * 25.4 / 72) for width, height in sizes]


def page_of(sheet):
    return (round(sheet["page_width_mm"], 2), round(sheet["page_height_mm"], 2))


def check_fonts(report, pdf):
    listed = subprocess.run(["pdffonts", str(pdf)], capture_output=True, check=True).stdout.decode("utf-8")
    rows = [line.split() for line in listed.splitlines()[2:]]
    embedded = [row[-5:-2] == ["yes", "yes", "yes"] for row in rows]
    report.check(f"{pdf.name}: all {len(rows)} fonts embedded, as subsets, with Unicode", rows and all(embedded))


def check_sizes(report, pdf, sheet, pages):
    wanted = page_of(sheet)
    sizes = page_sizes_mm(pdf, pages)
    width = all(abs(size[0] - wanted[0]) <= TOLERANCE_MM for size in sizes)
    if sheet["cut_to_length"]:
        height = all(size[1] <= wanted[1] for size in sizes)
    else:
        height = all(abs(size[1] - wanted[1]) <= TOLERANCE_MM for size in sizes)
    good = len(sizes) == pages and width and height
    name = f"{pdf.name}: {pages} pages of {wanted[0]:.2f} x {wanted[1]:.2f} mm"
    report.check(name, good, f"found {sorted(set(sizes))}")


def main():
    directory = pathlib.Path(sys.argv[1])
    expected = json.loads((directory / "expected.json").read_text("utf-8"))
    report = Report("text")
    # Sheets for the dots of a printer are moved by its offset; what matters of them is in check_dots.py.
    for sheet in (sheet for sheet in expected["sheets"] if not sheet["file"].startswith("grid-")):
        pdf = directory / sheet["file"]
        badges = expected["badges"][: sheet["badges"]]
        boxes = sheet["boxes_mm"]
        first = sheet["first_place"]
        pages = -(-(first + len(badges)) // len(boxes))
        check_sizes(report, pdf, sheet, pages)
        check_fonts(report, pdf)
        if pdf.name == "cards.pdf":
            size = (round(boxes[0][2], 2), round(boxes[0][3], 2))
            report.equal("cards.pdf: ID-1 by ISO/IEC 7810", size, ID_1_MM)
            report.equal("cards.pdf: the card is the page", size, page_of(sheet))
        for index, badge in enumerate(badges):
            # In the order of the page a hyphen at a line's end is kept; only otherwise are words turned round.
            order = [] if is_right_to_left(badge["name"]) else ["-raw"]
            page, place = divmod(first + index, len(boxes))
            text = text_of(pdf, page + 1, boxes[place], order)
            check_name(report, f"{pdf.name}: {badge['name']}", badge["name"], text)
            report.check(f"{pdf.name}: serial {badge['serial']}", badge["serial"] in text, f"found {text!r}")
    report.finish()


if __name__ == "__main__":
    main()
