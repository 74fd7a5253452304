"""Prints codes in the dots of three printers, spoils the pictures, and counts what other people's readers still read.

Damage: blur, 20 degrees of rotation, perspective, a quarter of the contrast, 5 % covered, as a camera or a worn badge
makes it. A few codes by default; SELLION_DAMAGE=whole tries many and writes the table damage.md, which justifies the
size of the modules and the level of correction. Usage: check_damage.py DIRECTORY
"""

import json
import os
import pathlib
import random
import subprocess
import shutil
import sys
import tempfile

import zxingcpp
from PIL import Image, ImageDraw, ImageFilter

from report import Report

FORMAT = zxingcpp.BarcodeFormat.QRCodeModel2
WHOLE = os.environ.get("SELLION_DAMAGE") == "whole"
CODES = 8 if WHOLE else 3
SEEDS = 6 if WHOLE else 1
# What a camera at a hand's length resolves of a card: common practice, no source.
CAMERA_DPI = 300
# The least share that each reader has to read. zbar is weaker on blurred dense codes, which is why it is not the reader
# of our own screens.
LEAST = {"zxing-cpp": 0.95, "zbar": 0.80, "zxing-wasm": 0.95}


def blur(image, _):
    return image.filter(ImageFilter.GaussianBlur(1.5))


def rotated(image, chance):
    return image.rotate(chance.choice((-20, 20)), expand=True, fillcolor=255, resample=Image.Resampling.BICUBIC)


def perspective(image, _):
    width, height = image.size
    # The far edge is a sixth shorter than the near one.
    source = (0, 0, 0, height, width, height, width, 0)
    target = (width / 12, 0, 0, height, width, height, width * 11 / 12, 0)
    coefficients = solve(target, source)
    return image.transform(image.size, Image.Transform.PERSPECTIVE, coefficients, Image.Resampling.BICUBIC, fillcolor=255)


def solve(target, source):
    """The eight numbers that take corners of the target to corners of the source."""
    rows = []
    for place in range(4):
        (x, y), (u, v) = target[2 * place : 2 * place + 2], source[2 * place : 2 * place + 2]
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, v])
    for column in range(8):
        pivot = max(range(column, 8), key=lambda row: abs(rows[row][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        rows[column] = [value / rows[column][column] for value in rows[column]]
        for row in range(8):
            if row != column:
                rows[row] = [a - rows[row][column] * b for a, b in zip(rows[row], rows[column])]
    return [row[8] for row in rows]


def faint(image, _):
    return image.point(lambda value: 96 + value // 4)


def covered(image, chance):
    """A blot of 5 % of the code, beside the finder patterns, which no level of correction replaces."""
    spoilt = image.copy()
    side = min(image.size)
    blot = round(side * 0.05**0.5)
    x, y = (chance.randint(round(side * 0.4), round(side * 0.7)) for _ in range(2))
    ImageDraw.Draw(spoilt).rectangle((x, y, x + blot, y + blot), fill=255)
    return spoilt


def everything(image, chance):
    return faint(blur(rotated(image, chance), chance), chance)


DAMAGES = {
    "none": lambda image, _: image,
    "blur": blur,
    "rotated 20 degrees": rotated,
    "perspective": perspective,
    "a quarter of the contrast": faint,
    "5 % covered": covered,
    "rotated, blurred and faint": everything,
}


def read_by_zxing(files):
    for file in files:
        with Image.open(file) as image:
            yield [found.bytes.decode("utf-8") for found in zxingcpp.read_barcodes(image, formats=FORMAT)]


def read_by_zbar(files):
    for file in files:
        command = ["zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", str(file)]
        done = subprocess.run(command, capture_output=True, check=False)
        yield done.stdout.decode("utf-8").splitlines()


def read_by_wasm(files):
    """The reader of the screens, under node."""
    program = pathlib.Path(__file__).with_name("read_codes.mjs")
    names = "\n".join(str(file) for file in files)
    done = subprocess.run(["node", program, MODULES], input=names, capture_output=True, check=True, text=True)
    yield from (json.loads(line) for line in done.stdout.splitlines())


READERS = {"zxing-cpp": read_by_zxing, "zbar": read_by_zbar}
# The folder whose node_modules hold the reader of the screens; check.sh makes one where there is node.
MODULES = os.environ.get("SELLION_BADGE_MODULES", "")
if MODULES and shutil.which("node"):
    READERS["zxing-wasm"] = read_by_wasm


def codes_as_printed(pdf, resolution):
    """Each code as the printer puts it on paper, seen at the resolution of the camera, with its quiet zone."""
    with tempfile.TemporaryDirectory() as folder:
        command = ["pdftoppm", "-r", str(resolution), "-mono", str(pdf), f"{folder}/p"]
        subprocess.run(command, check=True)
        for file in sorted(pathlib.Path(folder).glob("p-*.pbm")):
            with Image.open(file) as page:
                page = page.convert("L")
            found = zxingcpp.read_barcodes(page, formats=FORMAT)[0].position
            margin = (found.top_right.x - found.top_left.x) // 14
            box = (found.top_left.x - margin, found.top_left.y - margin,
                   found.bottom_right.x + margin, found.bottom_right.y + margin)
            code = page.crop(box)
            scale = CAMERA_DPI / resolution
            size = (round(code.width * scale), round(code.height * scale))
            yield code.resize(size, Image.Resampling.BOX if scale < 1 else Image.Resampling.BICUBIC)


def read_all(images, texts, spoil):
    """How many each reader reads, and how often one reads what was not printed."""
    with tempfile.TemporaryDirectory() as folder:
        files, wanted = [], []
        for seed in range(SEEDS):
            for place, (image, text) in enumerate(zip(images, texts)):
                files.append(pathlib.Path(folder) / f"{seed}-{place}.png")
                spoil(image, random.Random(1000 * seed + place)).save(files[-1])
                wanted.append(text)
        counts, wrong = {}, 0
        for reader, read in READERS.items():
            found = list(read(files))
            counts[reader] = sum(text in texts for text, texts in zip(wanted, found))
            wrong += sum(any(other != text for other in texts) for text, texts in zip(wanted, found))
    return counts, wrong


def main():
    directory = pathlib.Path(sys.argv[1])
    expected = json.loads((directory / "expected.json").read_text("utf-8"))
    report = Report("damage")
    lines = ["| printer | module | damage | " + " | ".join(READERS) + " |", "|---|---|---|" + "---|" * len(READERS)]
    totals = {reader: [0, 0] for reader in READERS}
    for sheet in (sheet for sheet in expected["sheets"] if sheet["file"].startswith("grid-")):
        resolution = sheet["dots_per_inch"]
        texts = [badge["code"] for badge in expected["badges"][: sheet["badges"]]]
        images = list(codes_as_printed(directory / sheet["file"], resolution))[:CODES]
        for damage, spoil in DAMAGES.items():
            counts, wrong = read_all(images, texts, spoil)
            tried = SEEDS * len(images)
            report.equal(f"{resolution} dpi, {damage}: codes read otherwise than printed", wrong, 0)
            for reader, count in counts.items():
                totals[reader][0] += count
                totals[reader][1] += tried
            shares = " | ".join(f"{count} of {tried}" for count in counts.values())
            lines.append(f"| {resolution} dpi | {sheet['module_dots']} dots or more | {damage} | {shares} |")
            if damage == "none":
                good = all(count == tried for count in counts.values())
                report.check(f"{resolution} dpi, undamaged: all {tried} read by every reader", good, shares)
    for reader, (count, tried) in totals.items():
        share = count / tried
        report.check(f"{reader}: {count} of {tried} read, at least {LEAST[reader]:.0%}", share >= LEAST[reader])
    (directory / "damage.md").write_text("\n".join(lines) + "\n", "utf-8")
    report.finish()


if __name__ == "__main__":
    main()
