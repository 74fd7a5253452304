"""Has an independent verifier read what the server judged, and the published test vectors.

Usage: check_verifier.py VECTORS CASES
VECTORS is the folder of the published vectors, CASES the file that the end-to-end test of forgeries wrote: texts, and
the word that the server's gate gave for each.
"""

import json
import pathlib
import random
import sys

import badge_format as badge

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "badge"))
from report import Report  # noqa: E402

# What a gate says of a badge that this verifier finds so; every person behind the cases is cleared.
ANSWERS = {
    "valid": "enter",
    "held": "cannot_confirm",
    "ended": "not_valid",
    "expired": "not_valid",
    "refused": "not_valid",
}
AT_LEAST = {"good": 900, "altered": 1000, "forged": 30, "ended": 20, "held": 20}


def check_base45(report, vectors):
    for case in vectors["good"]:
        data = bytes.fromhex(case["bytes"])
        report.equal(f"base45 {case['text']!r}", badge.base45_decode(case["text"]), data)
        report.equal(f"base45 of {case['bytes']}", badge.base45_encode(data), case["text"])
    for text in vectors["refused"]:
        report.check(f"base45 {text!r} is refused", is_refused(badge.base45_decode, text))


def is_refused(work, *arguments):
    try:
        work(*arguments)
    except badge.Refused:
        return True
    return False


def check_serials(report, vectors):
    for text in vectors["good"]:
        report.check(f"serial {text}", badge.is_serial(text))
    for text in vectors["refused"]:
        report.check(f"serial {text} is refused", not badge.is_serial(text))


def check_badges(report, vectors):
    ring = badge.key_ring(vectors["jwks"])
    for case in vectors["good"]:
        token = badge.unpack(case["code"])
        report.equal(f"{case['name']}: the code holds the JWT", token, case["jwt"])
        report.equal(f"{case['name']}: and is the JWT's code", badge.pack(token), case["code"])
        claims = badge.verify_jwt(ring, token, case["at"])
        report.equal(f"{case['name']}: claims", claims, case["claims"])
    for case in vectors["expired"]:
        try:
            badge.verify_jwt(ring, badge.unpack(case["code"]), case["at"])
            report.check(f"{case['name']} is over", False)
        except badge.Expired:
            report.check(f"{case['name']} is over", True)
    for case in vectors["refused"]:
        if "jwt" in case:
            refused = is_refused(badge.verify_jwt, ring, case["jwt"], case["at"])
        else:
            refused = is_refused(lambda case=case: badge.verify_jwt(ring, badge.unpack(case["code"]), case["at"]))
        report.check(f"{case['name']} is refused", refused)


def check_lists(report, vectors):
    ring = badge.key_ring(vectors["jwks"])
    for case in vectors["good"]:
        found = badge.read_status_list(ring, case["jwt"], case["issuer"], case["at"])
        values = [found.value(index) for index in range(len(case["values"]))]
        report.equal(f"{case['name']}: values", values, case["values"])
        report.equal(f"{case['name']}: ends there", found.value(8 * 16 << 20), None)
    for case in vectors["refused"]:
        refused = is_refused(badge.read_status_list, ring, case["jwt"], case["issuer"], case["at"])
        report.check(f"{case['name']} is refused", refused)


def check_cases(report, cases):
    ring = badge.key_ring(cases["jwks"])
    issuer, at = cases["issuer"], cases["at"]
    statuses = badge.read_status_list(ring, cases["status_list"], issuer, at)
    for group, least in AT_LEAST.items():
        rows = cases["groups"][group]
        report.check(f"{group}: {len(rows)} cases", len(rows) >= least)
        for case in rows:
            found = badge.verdict(ring, case["code"], statuses, issuer, at)
            told = case["answer"]
            report.equal(f"{group}, {case['name']}: {found}", ANSWERS.get(found), told)
    # The verifier's own hand flips bits as well: one in each of the good badges, where it likes.
    flips = random.Random(9285)
    refused = sum(badge.verdict(ring, flipped(case["code"], flips), statuses, issuer, at) == "refused" for case in cases["groups"]["good"])
    report.equal("one flipped bit, chosen here, in each good badge", refused, len(cases["groups"]["good"]))
    ended = badge.verdict(ring, cases["groups"]["good"][0]["code"], statuses, issuer, at + 400 * 86400)
    report.equal("a good badge when its time is over", ended, "expired")


def flipped(code, flips):
    raw = bytearray(badge.base45_decode(code[len(badge.PREFIX) :]))
    raw[flips.randrange(len(raw))] ^= 1 << flips.randrange(8)
    return badge.PREFIX + badge.base45_encode(bytes(raw))


def main():
    vectors, cases = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    read = lambda path: json.loads(path.read_text("utf-8"))  # noqa: E731
    report = Report("verifier")
    check_base45(report, read(vectors / "base45.json"))
    check_serials(report, read(vectors / "serials.json"))
    check_badges(report, read(vectors / "badges.json"))
    check_lists(report, read(vectors / "status-lists.json"))
    check_cases(report, read(cases))
    report.finish()


if __name__ == "__main__":
    main()
