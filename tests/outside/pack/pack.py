"""A gate without the project's code: reads a gate pack and answers, written from its description alone.

Signatures are PyJWT's, inflating is Python's zlib; base45 is a few lines after RFC 9285. All the rest is the table in
the documentation of the pack (server/badge/src/pack) and of the badge, read by somebody else.
"""

import base64
import datetime
import json
import zlib
import zoneinfo

import jwt

BASE45 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
SERIAL = "23456789ABCDEFGHJKMNPQRSTVWXY"
PREFIX = "SL1:"
PACK_TYPE = "sellion-gate-pack+jwt"
CURRENT_TYPE = "sellion-gate-pack-current+jwt"


class NotOurs(Exception):
    """What was read is no badge of this site."""


def unbase64(text):
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def column(text):
    return zlib.decompress(unbase64(text))


def keys_of(jwks):
    return {key.key_id: key.key for key in jwt.PyJWKSet.from_dict(jwks).keys}


def opened(keys, token, kind):
    """The payload of a signed document of one kind."""
    header = jwt.get_unverified_header(token)
    if header.get("typ") != kind or set(header) - {"alg", "kid", "typ"}:
        raise ValueError(f"not a {kind}")
    payload = jwt.api_jws.decode(token, keys[header["kid"]], algorithms=["ES256"])
    return json.loads(payload)


def base45(text):
    """RFC 9285 section 4, strictly: one text for one byte string."""
    digits = [BASE45.find(character) for character in text]
    if min(digits, default=0) < 0 or len(digits) % 3 == 1:
        raise NotOurs
    out = bytearray()
    for start in range(0, len(digits), 3):
        group = digits[start : start + 3]
        value = sum(digit * 45**power for power, digit in enumerate(group))
        if value >= 256 ** (len(group) - 1):
            raise NotOurs
        out += value.to_bytes(len(group) - 1, "big")
    return bytes(out)


def badge_claims(keys, code):
    """The claims of a genuine badge, whether it has run out or not."""
    if not code.startswith(PREFIX):
        raise NotOurs
    raw = base45(code[len(PREFIX) :])
    if len(raw) < 3:
        raise NotOurs
    first = 3 + raw[0]
    second = first + int.from_bytes(raw[1:3], "big")
    parts = (raw[3:first], raw[first:second], raw[second:])
    if second > len(raw) or not all(parts):
        raise NotOurs
    token = ".".join(base64.urlsafe_b64encode(part).rstrip(b"=").decode() for part in parts)
    try:
        header = jwt.get_unverified_header(token)
        if set(header) != {"alg", "kid"}:
            raise NotOurs
        return json.loads(jwt.api_jws.decode(token, keys[header["kid"]], algorithms=["ES256"]))
    except (jwt.InvalidTokenError, KeyError, ValueError) as error:
        raise NotOurs from error


def serial_number(text):
    """The number of a typed serial: ten digits to the base of 29, the last of them a check (weights 10 to 1)."""
    typed = [character for character in text.upper() if not character.isspace() and character != "-"]
    digits = [SERIAL.find(character) for character in typed]
    if len(digits) != 10 or min(digits) < 0:
        return None
    if sum(digit * weight for digit, weight in zip(digits, range(10, 0, -1))) % 29:
        return None
    number = 0
    for digit in digits[:9]:
        number = number * 29 + digit
    return number


def moment(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00"))


def micros(at):
    return round(at.timestamp()) * 1_000_000


class Pack:
    """A genuine pack and the server's word that it was current at a moment."""

    def __init__(self, keys, pack, current):
        self.claims = opened(keys, pack, PACK_TYPE)
        self.keys = keys_of(self.claims["jwks"])
        word = opened(self.keys, current, CURRENT_TYPE)
        if word["sub"] != self.claims["sub"] or word["content"] != self.claims["content"]:
            raise ValueError("the word is for another pack")
        self.known_at = word["iat"]
        badges = self.claims["badges"]
        self.count = badges["count"]
        raw = unbase64(badges["serials"])
        self.serials = [int.from_bytes(raw[at : at + 6], "big") for at in range(0, len(raw), 6)]
        raw = column(badges["ends"])
        self.ends = [int.from_bytes(raw[at : at + 4], "big") for at in range(0, len(raw), 4)]
        self.standings = column(badges["standings"])
        raw = column(badges["unclaimed"]) if "unclaimed" in badges else b""
        self.unclaimed = [int.from_bytes(raw[at : at + 4], "big") for at in range(0, len(raw), 4)]
        self.columns = [column(text) for text in self.claims["clearances"]]
        self.places = {row["respirator"]: place for place, row in enumerate(self.claims["respirators"])}

    def accepted(self, at):
        """What the policy in force accepts: nothing without one, `True` where nobody needs a respirator."""
        begun = [policy for policy in self.claims["policies"] if moment(policy["effective_from"]) <= at]
        if not begun:
            return None, 0
        policy = max(begun, key=lambda row: (moment(row["effective_from"]), moment(row["recorded_at"]), row["id"]))
        age = policy["knowledge_age_max_seconds"]
        until = policy.get("none_needed_until")
        if policy["none_needed"] and (until is None or at < moment(until)):
            return True, age
        lines = [line for line in policy["accepts"] if line.get("until") is None or at < moment(line["until"])]
        if not lines:
            return None, 0
        accepted = []
        for line in lines:
            if "respirator_id" in line:
                accepted.append(line["respirator_id"])
            else:
                accepted += [row["respirator"] for row in self.claims["respirators"] if self.of_class(line, row, at)]
        return accepted, age

    @staticmethod
    def of_class(line, row, at):
        def words(text):
            spaced = "".join(character if character.isalnum() else " " for character in text.lower())
            return set(spaced.split())

        retired = row.get("retired_at")
        return (
            (retired is None or at < moment(retired))
            and line.get("facepiece") in (None, row["facepiece"])
            and words(line.get("filter_class") or "") <= words(row["filter_class"])
        )

    def span(self, index, respirator):
        width = self.claims["span_bytes"]
        raw = self.columns[self.places[respirator]][index * width : (index + 1) * width]
        number = int.from_bytes(raw, "big")
        return self.claims["spans"][number - 1] if number else None

    def find(self, text, at):
        """Last moment, standing and the spans by respirator of what was read; an unclaimed badge stands as a held one."""
        number = serial_number(text) if not text.startswith(PREFIX) else None
        if number is not None:
            if number not in self.serials:
                raise NotOurs
            return self.known(self.serials.index(number), at)
        claims = badge_claims(self.keys, text)
        index = claims["sti"]
        if index < self.count and self.serials[index] == serial_number(claims["jti"]):
            return self.known(index, at)
        if index >= self.count and claims["iat"] + 60 >= self.known_at:
            days = self.claims.get("unclaimed_after_days")
            unclaimed = days is not None and claims["iat"] + days * 86_400 <= at.timestamp()
            return claims["exp"], 2 if unclaimed else 0, self.printed(claims)
        raise NotOurs

    def known(self, index, at):
        standing = self.standings[index // 4] >> (index % 4 * 2) & 3
        if standing == 0 and self.unclaimed and 0 < self.unclaimed[index] <= at.timestamp():
            standing = 2
        return self.ends[index], standing, lambda respirator: self.span(index, respirator)

    def printed(self, claims):
        """The badge is younger than the pack and speaks for itself."""
        zone = zoneinfo.ZoneInfo(self.claims["zone"])
        due = {}
        for number, day in claims["rsp"]:
            last = datetime.date(day // 10_000, day // 100 % 100, day % 100) + datetime.timedelta(days=1)
            end = datetime.datetime.combine(last, datetime.time(), zone)
            due[str(number)] = ["cleared", claims["iat"] * 1_000_000, micros(end)]
        numbers = {row["respirator"]: str(row["number"]) for row in self.claims["respirators"]}
        return lambda respirator: due.get(numbers[respirator])

    def answer(self, text, at):
        try:
            end, standing, span = self.find(text, at)
        except NotOurs:
            return "not_valid"
        if standing == 1 or end <= at.timestamp():
            return "not_valid"
        accepted, age = self.accepted(at)
        if accepted is None or int(at.timestamp()) - self.known_at > age:
            return "cannot_confirm"
        if accepted is True:
            return "enter"
        if standing == 2:
            return "cannot_confirm"
        spans = [found for found in map(span, accepted) if found]
        in_date = [state for state, begin, until in spans if (begin or 0) <= micros(at) < until]
        if "cleared" in in_date:
            return "enter"
        return "cannot_confirm" if "held" in in_date else "not_cleared"

    def too_old(self, at):
        accepted, age = self.accepted(at)
        return accepted is not None and int(at.timestamp()) - self.known_at > age
