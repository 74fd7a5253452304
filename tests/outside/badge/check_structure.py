"""Checks what is read aloud of every document, and in which order.

pdfua, a checker that is not ours, looks for breaches of ISO 14289-1 (PDF/UA-1); pikepdf walks the structure for what no
general checker can know: the name first, then the list, the code in words, the caution. Clauses are from memory.
Usage: check_structure.py DIRECTORY
"""

import json
import pathlib
import re
import subprocess
import sys

import pikepdf

from report import Report

SHEETS = ("cards.pdf", "sheets.pdf", "letter.pdf", "singles.pdf", "slips.pdf", "proof.pdf")
GLYPHS = (b"Tj", b"TJ", b"'", b'"')
PAINT = (b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"S", b"s")


def children(element):
    kids = element.get("/K", [])
    return list(kids) if isinstance(kids, pikepdf.Array) else [kids]


def elements(element):
    """Every structure element below this one, in the order of reading."""
    for kid in children(element):
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from elements(kid)


def marks_of(element):
    """The numbers of marked content directly in this element."""
    for kid in children(element):
        if isinstance(kid, pikepdf.Dictionary):
            if "/MCID" in kid:
                yield int(kid["/MCID"])
        else:
            yield int(kid)


def unmarked(page):
    """Painting operators outside of any mark, and the numbers of the marks."""
    depth, outside, marks = 0, 0, []
    for operands, operator in pikepdf.parse_content_stream(page):
        name = bytes(operator)
        if name == b"BDC":
            depth += 1
            properties = operands[1]
            if isinstance(properties, pikepdf.Name):
                properties = page.Resources.Properties[properties]
            if "/MCID" in properties:
                marks.append(int(properties["/MCID"]))
        elif name == b"BMC":
            depth += 1
        elif name == b"EMC":
            depth -= 1
        elif name in GLYPHS + PAINT and depth == 0:
            outside += 1
    return outside, marks


def check_document(report, file, pdf):
    root = pdf.Root
    report.check(f"{file}: 7.1 is marked as tagged", bool(root.MarkInfo.Marked))
    report.check(f"{file}: 7.1 shows its title", bool(root.ViewerPreferences.DisplayDocTitle))
    report.check(f"{file}: 7.1 has a title", bool(str(pdf.docinfo.get("/Title", ""))))
    report.equal(f"{file}: 7.2 names its language", str(root.Lang), "en")
    with pdf.open_metadata() as metadata:
        report.equal(f"{file}: 5 names PDF/UA-1", metadata.get("pdfuaid:part"), "1")
    bare, numbers = 0, set()
    for index, page in enumerate(pdf.pages):
        outside, marks = unmarked(page)
        bare += outside
        numbers.update((index, mark) for mark in marks)
        report_once = len(marks) == len(set(marks))
        if not report_once:
            report.check(f"{file}: page {index + 1} has a mark twice", False)
    report.equal(f"{file}: 7.1 content that is neither marked nor an artifact", bare, 0)
    pages = {page.objgen: index for index, page in enumerate(pdf.pages)}
    tagged = list(elements(root.StructTreeRoot))
    placed = [(pages.get(element.get("/Pg", pdf.pages[0].obj).objgen), mark)
              for element in tagged for mark in marks_of(element)]
    report.equal(f"{file}: every mark is in the structure once", sorted(placed), sorted(numbers))
    return tagged


def title_of(element):
    return str(element.get("/T", element.get("/ActualText", "")))


def check_badges(report, file, tagged, badges):
    kinds = [str(element.S) for element in tagged]
    allowed = {"/Document", "/Sect", "/H1", "/P", "/L", "/LI", "/LBody", "/Figure"}
    report.check(f"{file}: only known kinds", set(kinds) <= allowed, str(set(kinds) - allowed))
    sections = [element for element in tagged if str(element.S) == "/Sect"]
    report.equal(f"{file}: a section for each badge", len(sections), len(badges))
    wrong = []
    for section, badge in zip(sections, badges):
        inside = list(elements(section))
        order = [str(element.S) for element in inside]
        figures = [element for element in inside if str(element.S) == "/Figure"]
        good = (
            order[0] == "/H1"
            and title_of(inside[0]) == badge["name"]
            and len(figures) == 1
            and badge["serial"] in str(figures[0].get("/Alt", ""))
            and order.count("/LI") == badge["respirators"]
            and all(str(element.P.S) == "/L" for element in inside if str(element.S) == "/LI")
            and order[-1] == "/P"
        )
        if not good:
            wrong.append((badge["serial"], order))
    report.check(f"{file}: name, list, code in words and caution of each badge, in this order", not wrong, str(wrong[:2]))
    right_to_left = [badge for badge in badges if re.search("[\u0590-\u08ff]", badge["name"])]
    said = {str(element.get("/ActualText", "")) for element in tagged}
    report.check(
        f"{file}: {len(right_to_left)} names from right to left are there as they are read",
        all(badge["name"] in said for badge in right_to_left),
    )


def check_by_pdfua(report, path):
    """Its exit code is 3 from an error on, 2 for a warning."""
    done = subprocess.run([sys.executable, "-m", "pdfua", "check", str(path)], capture_output=True, check=False)
    report.check(f"{path.name}: pdfua finds no breach of PDF/UA-1", done.returncode < 3, done.stdout.decode("utf-8")[:500])


def main():
    directory = pathlib.Path(sys.argv[1])
    expected = json.loads((directory / "expected.json").read_text("utf-8"))
    report = Report("structure")
    sheets = {sheet["file"]: sheet for sheet in expected["sheets"]}
    for file in SHEETS:
        check_by_pdfua(report, directory / file)
        with pikepdf.open(directory / file) as pdf:
            tagged = check_document(report, file, pdf)
            if file in sheets:
                badges = expected["badges"][: sheets[file]["badges"]]
                check_badges(report, file, tagged, badges)
                report.check(f"{file}: 7.17 has an outline", "/Outlines" in pdf.Root)
    report.finish()


if __name__ == "__main__":
    main()
