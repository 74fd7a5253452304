"""Reads back what a played day left: sheets, signatures, gates' answers and counts.

Usage: check_day.py DIRECTORY ADDRESS
"""

import csv
import json
import pathlib
import sys
import tempfile
import urllib.request
from collections import Counter

import jwt

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "badge"))
# pylint: disable=wrong-import-position
from check_codes import READERS, rasterise
from check_text import letters, text_of
from check_tokens import unpack, verify
from report import Report

PASSWORD = "invented-hospital"
A4_MM = (0, 0, 210, 297)
ATTEMPTS = {"pass", "fail", "void", "stopped"}
SCANS = {"enter", "not_cleared", "cannot_confirm", "not_valid"}
COUNTS = {"people", "visits", "screenings", "attempts", "measured", "referred", "clearances", "badges", "scans", "drill", "requests", "seconds"}
# The people of a look-back are each on one of its lists.
DRILL = {"surely", "possibly", "not_affected", "held_at_gate", "retested"}


class Server:
    """The served API, as one signed-in user."""

    def __init__(self, address, username):
        self.address = address
        body = json.dumps({"username": username, "password": PASSWORD}).encode()
        request = urllib.request.Request(f"{address}/api/v1/sessions", body, {"content-type": "application/json"})
        with urllib.request.urlopen(request) as answer:
            self.cookie = answer.headers["set-cookie"].split(";")[0]

    def get(self, path):
        request = urllib.request.Request(f"{self.address}{path}", headers={"cookie": self.cookie})
        with urllib.request.urlopen(request) as answer:
            return json.load(answer)

    def every(self, path):
        items, page = [], self.get(f"{path}?limit=500")
        while True:
            items += page["items"]
            if not page.get("next"):
                return items
            page = self.get(f"{path}?limit=500&cursor={page['next']}")


def check_print(report, directory, badges):
    codes = Counter(badge["code"] for badge in badges)
    with tempfile.TemporaryDirectory() as folder:
        images = rasterise(directory / "badges.pdf", 300, folder)
        report.equal("ten badges to an A4 page", len(images), -(-len(badges) // 10))
        for reader, read in READERS:
            found = Counter(text for image in images for text in read(image))
            report.check(f"{reader} reads all {len(badges)} printed codes byte for byte", found == codes)
        pages = "".join(text_of(directory / "badges.pdf", page + 1, A4_MM, ["-raw"]) for page in range(len(images)))
    for badge in badges:
        report.check(f"serial {badge['serial']} is printed", badge["serial"] in pages)
    latin = [badge["name"] for badge in badges if badge["name"].isascii()]
    for name in sorted(set(latin)):
        report.check(f"the name {name} is printed", letters(name) in letters(pages))


def check_signatures(report, address, badges):
    with urllib.request.urlopen(f"{address}/.well-known/jwks.json") as answer:
        keys = {key.key_id: key.key for key in jwt.PyJWKSet.from_dict(json.load(answer)).keys}
    for badge in badges:
        claims = verify(keys, unpack(badge["code"]))
        serial = badge["serial"].replace("-", "")
        report.equal(f"PyJWT verifies {badge['serial']} by the served keys (RFC 7515, RFC 7517)", claims["jti"], serial)


def check_summary(report, directory, badges, roster):
    summary = json.loads((directory / "summary.json").read_text("utf-8"))
    report.equal("summary.json counts what it should", set(summary) - COUNTS, set())
    report.equal("summary.json leaves nothing out", COUNTS - set(summary), set())
    report.equal("everybody on the roster is a person", summary["people"], len(roster))
    report.equal("everybody was checked in", summary["visits"], len(roster))
    report.equal("the outcomes of attempts", set(summary["attempts"]), ATTEMPTS)
    report.equal("the answers of gates", set(summary["scans"]), SCANS)
    report.equal("the counts of the drill", set(summary["drill"]), DRILL)
    drill = summary["drill"]
    report.equal("nobody is held who does not surely stand on the lot", drill["held_at_gate"] <= drill["surely"], True)
    report.equal("somebody was tested again", drill["retested"], 1)
    report.equal("every badge is on the sheets", summary["badges"], len(badges))
    for group, names in (("attempts", ATTEMPTS), ("scans", SCANS)):
        for name in sorted(names):
            report.check(f"the day has {group} that end as {name}", summary[group][name] > 0, str(summary[group]))
    report.check("a fit factor was measured", summary["measured"] >= 1, str(summary["measured"]))
    report.check("somebody is referred", summary["referred"] >= 1, str(summary["referred"]))
    # After the badges were made one permission ended and one attempt was withdrawn; each person passed on one model.
    report.equal("every badge but two stands on a clearance", summary["clearances"], summary["badges"] - 2)


def main():
    directory, address = pathlib.Path(sys.argv[1]), sys.argv[2]
    report = Report("day")
    with open(directory / "roster.csv", encoding="utf-8", newline="") as file:
        roster = list(csv.DictReader(file))
    badges = Server(address, "badge_desk").every("/api/v1/badges")
    check_print(report, directory, badges)
    check_signatures(report, address, badges)
    check_summary(report, directory, badges, roster)
    people = Server(address, "coordinator").every("/api/v1/people")
    stored = {(p["staff_number"], p["given_name"], p["family_name"]) for p in people}
    sent = {(r["staff_number"], r["given_name"], r["family_name"]) for r in roster}
    report.equal("the roster is stored letter for letter, zeros kept", stored, sent)
    report.finish()


if __name__ == "__main__":
    main()
