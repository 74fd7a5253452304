"""Reads sheets of labels back: each code in its own place, the words on it, the pattern of its band; and the list to
walk with, line by line.

Usage: check_sheets.py DIRECTORY
"""

import json
import pathlib
import subprocess
import sys
import tempfile

from check_codes import RESOLUTIONS, rasterise, read_by_zbar, read_by_zxing
from check_text import TOLERANCE_MM, letters, page_sizes_mm, text_of
from PIL import Image
from report import Report

# Where the band lies within a label, in mm from its left upper corner: left, right, the middle of its height.
BAND = (4.5, 59.0, 3.8)
# How much of a row of dots, bars or one solid band is black along its middle, and how often it changes at least.
PATTERNS = {
    "test": (0.999, 1.0, 0),
    "screening": (0.45, 0.75, 16),
    "stock": (0.4, 0.6, 30),
    None: (0.0, 0.0, 0),
}


def places(sheet, labels):
    """Page, box and label, from the first place on."""
    boxes = sheet["boxes_mm"]
    for index, label in enumerate(labels, sheet["first_place"]):
        yield index // len(boxes), boxes[index % len(boxes)], label


def cut(image, box, resolution):
    left, top, width, height = (length / 25.4 * resolution for length in box)
    return image.crop((round(left), round(top), round(left + width), round(top + height)))


def check_codes(report, sheet, labels, images, resolution, folder):
    for reader, read in (("zbarimg", read_by_zbar), ("zxing-cpp", read_by_zxing)):
        right, wrong = 0, []
        for page, box, label in places(sheet, labels):
            with Image.open(images[page]) as image:
                one = pathlib.Path(folder) / "one.pgm"
                cut(image, box, resolution).save(one)
            found = read(one)
            if found == [label["code"]]:
                right += 1
            else:
                wrong.append((label["code"], found))
        name = f"{sheet['file']} at {resolution} dpi by {reader}: {right} of {len(labels)} codes, each in its place"
        report.check(name, right == len(labels), f"{wrong[:3]}")


def check_bands(report, sheet, labels, images, resolution):
    wrong = []
    for page, box, label in places(sheet, labels):
        with Image.open(images[page]) as image:
            one = cut(image, box, resolution).convert("L")
        left, right, middle = (round(length / 25.4 * resolution) for length in BAND)
        row = [one.getpixel((x, middle)) < 128 for x in range(left, right)]
        black = sum(row) / len(row)
        changes = sum(a != b for a, b in zip(row, row[1:]))
        least, most, changes_least = PATTERNS[label["solution"]]
        if not (least <= black <= most and changes >= changes_least):
            wrong.append((label["solution"], round(black, 3), changes))
    report.check(f"{sheet['file']}: {len(labels)} bands are those of their solution", not wrong, f"{wrong[:5]}")


def check_words(report, directory, sheet, labels):
    for page, box, label in places(sheet, labels):
        text = " ".join(text_of(directory / sheet["file"], page + 1, box, []).split())
        wanted = [label["kind"], label["shown"], *label["words"], *(label["liquid"] or [])]
        missing = [words for words in wanted if words not in text]
        report.check(f"{sheet['file']}: {label['shown']} {wanted[2]}", not missing, f"{missing} not in {text!r}")


def check_empty_places(report, sheet, images, resolution):
    with Image.open(images[0]) as image:
        used = [box for box in sheet["boxes_mm"][: sheet["first_place"]] if cut(image, box, resolution).getextrema()[0] < 255]
    report.check(f"{sheet['file']}: the {sheet['first_place']} places before the first stay white", not used, f"{used}")


# What every list says beside what it is about: where to sign, and that a station out of contact has to be told.
SIGN = "Taken away at, by:"
FOOT = "Stations without contact to the server do not know of the stop yet"


def check_runner_list(report, directory, runner):
    pdf = directory / runner["file"]
    # In the order of the page, so that a line broken in two stays together.
    command = ["pdftotext", "-raw", "-enc", "UTF-8", str(pdf), "-"]
    text = subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")
    things = [thing for place in runner["places"] for thing in place["things"]]
    wanted = [*runner["head"]]
    for place in runner["places"]:
        wanted += [place["place"], *place["things"]]
    # Every text once and in the order of walking; spaces and line ends are not compared.
    found, rest, lost = letters(text), letters(text), []
    for line in wanted:
        before, mark, after = rest.partition(letters(line))
        if mark:
            rest = after
        else:
            lost.append(line)
    report.check(f"{runner['file']}: {len(wanted)} lines in the order of walking", not lost, f"{lost[:3]} not in order")
    twice = [thing for thing in things if found.count(letters(thing)) != 1]
    report.check(f"{runner['file']}: each of {len(things)} things once", not twice, f"{twice[:3]}")
    signs = found.count(letters(SIGN))
    report.check(f"{runner['file']}: a place to sign beside each thing", signs == len(things), f"{signs} of {len(things)}")
    report.check(f"{runner['file']}: who is out of contact is told in person", letters(FOOT) in found, text[-400:])


def main():
    directory = pathlib.Path(sys.argv[1])
    expected = json.loads((directory / "expected.json").read_text("utf-8"))
    labels = expected["labels"]
    report = Report("label outside checks")
    check_runner_list(report, directory, expected["runner"])
    report.check("every pattern is among the samples", {label["solution"] for label in labels} == set(PATTERNS))
    for sheet in expected["sheets"]:
        pages = -(-(len(labels) + sheet["first_place"]) // len(sheet["boxes_mm"]))
        sizes = page_sizes_mm(directory / sheet["file"], pages)
        good = len(sizes) == pages and all(
            abs(found - want) <= TOLERANCE_MM for size in sizes for found, want in zip(size, sheet["page_mm"])
        )
        report.check(f"{sheet['file']}: {pages} pages of {sheet['page_mm']} mm", good, f"found {sizes}")
        for resolution in RESOLUTIONS:
            with tempfile.TemporaryDirectory() as folder:
                images = rasterise(directory / sheet["file"], resolution, folder)
                check_codes(report, sheet, labels, images, resolution, folder)
                check_bands(report, sheet, labels, images, resolution)
                check_empty_places(report, sheet, images, resolution)
        check_words(report, directory, sheet, labels)
    report.finish()


if __name__ == "__main__":
    main()
