"""Reads random element strings with our reader and with a general-purpose parser and compares what they say.

Good ones have to give the same elements and the same last day of use; broken ones have to be refused by both, for the
reason they were broken in; in ones changed at random, whatever both read has to be the same.
Usage: check_labels.py READER DIRECTORY
"""

import datetime
import json
import pathlib
import random
import subprocess
import sys

from biip import ParseError
from biip.gs1_application_identifiers import _GS1_APPLICATION_IDENTIFIERS
from biip.gs1_messages import GS1Message

SEPARATOR = "\x1d"
SEED = 20270308
GOOD = 2000
BROKEN_OF_EACH = 100
CHANGED = 2000
# GS1 General Specifications section 7.11.
SET_82 = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
SYMBOLOGIES = ("", "]C1", "]d2", "]Q3", "]e0")
# Section 7.8.5: identifiers whose values end by themselves, with the digits of the value.
PREDEFINED = {"00": 18, "01": 14, "02": 14, "11": 6, "13": 6, "15": 6, "17": 6, "20": 2, "3103": 6, "3402": 6, "414": 13}
KEYS = ("00", "01", "02", "414")
DATES = ("11", "13", "15", "17")
TEXTS = {"10": 20, "21": 20, "22": 20, "240": 30, "241": 30, "400": 30, "710": 20, "8004": 30, "91": 90, "99": 90}
NUMBERS = {"30": 8, "37": 8, "242": 6, "3922": 15, "8019": 10}
EXACT = {"402": 17, "422": 3, "8005": 6, "8018": 18}
NEEDED = ("01", "10", "17", "21", "30")


def digits(rng, count):
    return "".join(rng.choice("0123456789") for _ in range(count))


def with_check_digit(front):
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(front)))
    return front + str(-total % 10)


def date(rng):
    year, month = rng.randrange(100), rng.randint(1, 12)
    day = 0 if rng.random() < 0.3 else rng.randint(1, 28)
    return f"{year:02}{month:02}{day:02}"


def value_of(rng, ai):
    if ai in KEYS:
        return with_check_digit(digits(rng, PREDEFINED[ai] - 1))
    if ai in ("402", "8018"):
        return with_check_digit(digits(rng, EXACT[ai] - 1))
    if ai in DATES:
        return date(rng)
    if ai in PREDEFINED:
        return digits(rng, PREDEFINED[ai])
    if ai in EXACT:
        return digits(rng, EXACT[ai])
    if ai in NUMBERS:
        return digits(rng, rng.randint(1, NUMBERS[ai]))
    return "".join(rng.choice(SET_82) for _ in range(rng.randint(1, TEXTS[ai])))


def elements(rng):
    others = [ai for ai in (*PREDEFINED, *TEXTS, *NUMBERS, *EXACT) if ai not in NEEDED]
    wanted = rng.sample(NEEDED, rng.randint(1, len(NEEDED))) + rng.sample(others, rng.randint(0, 4))
    rng.shuffle(wanted)
    return [(ai, value_of(rng, ai)) for ai in wanted]


def scanned(rng, parts):
    """As a scanner delivers it; now and then with separators that are not needed."""
    text = ""
    for place, (ai, value) in enumerate(parts):
        text += ai + value
        last = place == len(parts) - 1
        if not last and (ai not in PREDEFINED or rng.random() < 0.1) or last and rng.random() < 0.2:
            text += SEPARATOR
    return text


def printed(parts):
    return "".join(f"({ai}){value}" for ai, value in parts)


def replaced(parts, place, value):
    return [*parts[:place], (parts[place][0], value), *parts[place + 1 :]]


def wrong_digit(rng, parts):
    place = next(place for place, (ai, _) in enumerate(parts) if ai == "01")
    value = parts[place][1]
    at = rng.randrange(14)
    other = str((int(value[at]) + rng.randint(1, 9)) % 10)
    return replaced(parts, place, value[:at] + other + value[at + 1 :])


def wrong_date(*endings):
    def change(rng, parts):
        place = next(place for place, (ai, _) in enumerate(parts) if ai == "17")
        return replaced(parts, place, parts[place][1][:2] + rng.choice(endings))

    return change


def of_lot(change):
    def with_lot(rng, parts):
        place = next(place for place, (ai, _) in enumerate(parts) if ai == "10")
        return replaced(parts, place, change(rng, parts[place][1]))

    return with_lot


def foreign(rng, lot):
    at = rng.randrange(len(lot) + 1)
    return lot[:at] + rng.choice("#$@[\\]^`{|}~ö ") + "Z" + lot[at:]


def unknown(rng, parts):
    """Behind the last element, so that neither reader takes it for anything else."""
    return [*parts, ("91", "Q"), (rng.choice(("05", "38", "29", "66", "89", "3179", "4399", "7999")), "X7")]


def twice(rng, parts):
    lot = next(value for ai, value in parts if ai == "10")
    return [*parts, ("10", lot[:-1] + ("B" if lot[-1] != "B" else "C"))]


# The reason our reader has to name, and how to break a label so.
BREAKS = {
    "check_digit": wrong_digit,
    "date (month)": wrong_date("1301", "0001", "9900", "2015"),
    "date (day)": wrong_date("0132", "0230", "0431", "1199", "0631"),
    "too_long": of_lot(lambda rng, lot: "".join(rng.choice("ABCXYZ") for _ in range(rng.randint(21, 40)))),
    "empty": of_lot(lambda rng, lot: ""),
    "character": of_lot(foreign),
    "unknown_identifier": unknown,
    "contradiction": twice,
}


def broken(rng, reason):
    parts = [(ai, value) for ai, value in elements(rng) if ai not in ("01", "10", "17", "91")]
    parts += [(ai, value_of(rng, ai)) for ai in ("01", "17", "10")]
    rng.shuffle(parts)
    return BREAKS[reason](rng, parts)


def changed(rng, text):
    at = rng.randrange(len(text) + 1)
    some = rng.choice(SET_82 + "0123456789" * 4 + SEPARATOR + "#~")
    return rng.choice((text[:at] + text[at + 1 :], text[:at] + some + text[at:], text[:at] + some + text[at + 1 :]))


def by_reference(text):
    """Elements and last day of use; None when it refuses or sees a contradiction."""
    for symbology in SYMBOLOGIES[1:]:
        text = text.removeprefix(symbology)
    try:
        found = GS1Message.parse(text.strip(SEPARATOR)).element_strings
    except ParseError:
        return None
    if any(element.gtin_error or element.gln_error or element.sscc_error for element in found):
        return None
    values = {}
    for element in found:
        if values.setdefault(element.ai.ai, element.value) != element.value:
            return None
    expiry = next((element.date.isoformat() for element in found if element.ai.ai == "17"), None)
    return (values, expiry) if values else None


def by_ours(answer):
    if "refused" in answer:
        return None
    label = answer["label"]
    values = {other["ai"]: other["value"] for other in label["others"]}
    named = {"01": label["gtin"], "10": label["lot_number"], "21": label["serial"]}
    expiry = label["expiry"]
    if expiry:
        named["17"] = expiry["yymmdd"]
    values |= {ai: value for ai, value in named.items() if value is not None}
    return values, expiry and expiry["expires_on"], label["count"]


def same(ours, reference):
    """Counts are compared as numbers: the reader gives one."""
    values, expiry, count = ours
    wanted, wanted_expiry = dict(reference[0]), reference[1]
    wanted_count = wanted.pop("30", None)
    return values == wanted and expiry == wanted_expiry and count == (int(wanted_count) if wanted_count else None)


class Report:
    def __init__(self):
        self.passed = self.failed = 0

    def check(self, name, wrong, total):
        good = not wrong and total > 0
        self.passed += good
        self.failed += not good
        print(f"{'ok   ' if good else 'FAIL '} {name}: {total - len(wrong)} of {total}")
        for text in wrong[:5]:
            print(f"      {text!r}")


def ask(reader, year, texts):
    lines = "".join(json.dumps(text) + "\n" for text in texts)
    done = subprocess.run([reader, str(year)], input=lines, capture_output=True, check=True, text=True)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(texts)
    return answers


def check_good(report, read, rng):
    made = [elements(rng) for _ in range(GOOD)]
    texts = [rng.choice(SYMBOLOGIES) + scanned(rng, parts) for parts in made]
    answers = [by_ours(answer) for answer in read(texts)]
    references = [by_reference(text) for text in texts]
    wrong = [t for t, r, parts in zip(texts, references, made) if r is None or r[0] != dict(parts)]
    report.check("good labels, by the reference what was written", wrong, len(texts))
    wrong = [t for t, a, r in zip(texts, answers, references) if a is None or r is None or not same(a, r)]
    report.check("good labels, by us the same", wrong, len(texts))
    # The reference ends a value at any parenthesis, so such values are left out here.
    plain = [parts for parts in made if not any(set("()") & set(value) for _, value in parts)]
    texts = [printed(parts) for parts in plain]
    pairs = zip(texts, read(texts))
    wrong = [t for t, a in pairs if not (o := by_ours(a)) or not same(o, as_printed(t))]
    report.check("good labels, as printed with parentheses", wrong, len(texts))


def as_printed(text):
    found = GS1Message.parse_hri(text).element_strings
    expiry = next((element.date.isoformat() for element in found if element.ai.ai == "17"), None)
    return {element.ai.ai: element.value for element in found}, expiry


def check_broken(report, read, rng):
    for reason in BREAKS:
        texts = [scanned(rng, broken(rng, reason)) for _ in range(BROKEN_OF_EACH)]
        answers = read(texts)
        problem = reason.split(" ")[0]
        wrong = [t for t, a in zip(texts, answers) if a.get("refused", {}).get("problem") != problem]
        report.check(f"broken labels ({reason}), refused by us for that reason", wrong, len(texts))
        wrong = [text for text in texts if by_reference(text) is not None]
        report.check(f"broken labels ({reason}), refused by the reference", wrong, len(texts))


def check_changed(report, read, rng):
    texts = [changed(rng, scanned(rng, elements(rng))) for _ in range(CHANGED)]
    answers, references = read(texts), [by_reference(text) for text in texts]
    both = [(t, by_ours(a), r) for t, a, r in zip(texts, answers, references) if "label" in a and r is not None]
    report.check("changed labels that both read, read alike", [t for t, a, r in both if not same(a, r)], len(both))
    ours_only = [t for t, a, r in zip(texts, answers, references) if "label" in a and r is None]
    report.check("changed labels, none read that the reference refuses", ours_only, len(texts))
    # The reference goes on where a value of full length ends without its separator, checks no check digit of
    # shipments and relations, and lets a count be empty; we refuse all three.
    stricter = ("too_long", "check_digit", "empty")
    theirs = [(t, a) for t, a, r in zip(texts, answers, references) if "refused" in a and r is not None]
    wrong = [f"{t} {a['refused']}" for t, a in theirs if a["refused"]["problem"] not in stricter]
    report.check("changed labels, refused by us alone only where we are stricter", wrong, len(texts))


def check_identifiers(report, read):
    """Every number of two to four digits: the same ones are identifiers."""
    numbers = [f"{number:0{width}}" for width in (2, 3, 4) for number in range(10**width)]
    answers = read([f"({number})" for number in numbers])
    ours = {number for number, answer in zip(numbers, answers) if answer["refused"]["problem"] == "empty"}
    known = {number for number in numbers if number in _GS1_APPLICATION_IDENTIFIERS}
    report.check(f"identifiers, {len(known)} of them, the same by both", sorted(ours ^ known), len(numbers))


def main():
    reader, directory = sys.argv[1], pathlib.Path(sys.argv[2])
    rng = random.Random(SEED)
    # The reference takes the present year from the clock.
    year = datetime.datetime.now(tz=datetime.timezone.utc).year
    asked = []

    def read(texts):
        asked.extend(texts)
        return ask(reader, year, texts)

    report = Report()
    check_identifiers(report, read)
    check_good(report, read, rng)
    check_broken(report, read, rng)
    check_changed(report, read, rng)
    (directory / "asked.json").write_text(json.dumps(asked, indent=0), "utf-8")
    report.check("labels asked altogether, at least 2000", [] if len(asked) >= 2000 else ["too few"], len(asked))
    print(f"gs1 outside checks: {report.passed} passed, {report.failed} failed")
    sys.exit(1 if report.failed else 0)


if __name__ == "__main__":
    main()
