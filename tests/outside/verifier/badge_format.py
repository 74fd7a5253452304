"""A verifier of badges written from api-spec/badge-format.md alone, with nothing of ours in it.

Base45 from RFC 9285, the layout and the claims from the page, signatures by PyJWT (RFC 7515, RFC 7518 section 3.4),
status lists by zlib (draft-ietf-oauth-status-list). It fetches nothing and reads no clock: keys, lists and the moment
come in as arguments.
"""

import base64
import binascii
import json
import re
import zlib

import jwt

PREFIX = "SL1:"
CODE_LENGTH_MAX = 730
JWT_LENGTH_MAX = 1024
BASE45 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
SERIAL = "23456789ABCDEFGHJKMNPQRSTVWXY"
CLAIMS = {"iss", "jti", "iat", "exp", "sti", "rsp"}
YEAR_10000 = 253402300800
LIST_BYTES_MAX = 16 << 20


class Refused(Exception):
    """It is no badge, or no status list, of these keys."""


class Expired(Exception):
    """It is genuine, and its time is over."""


def base45_decode(text):
    """RFC 9285 sections 4 and 6: strict, so that one byte string has one text."""
    digits = [BASE45.find(character) for character in text]
    if -1 in digits or len(digits) % 3 == 1:
        raise Refused("not base45")
    out = bytearray()
    for start in range(0, len(digits), 3):
        group = digits[start : start + 3]
        value = sum(digit * 45**power for power, digit in enumerate(group))
        if value >= 256 ** (len(group) - 1):
            raise Refused("a group of base45 overflows")
        out += value.to_bytes(len(group) - 1, "big")
    return bytes(out)


def base45_encode(data):
    text = ""
    for start in range(0, len(data), 2):
        group = data[start : start + 2]
        value = int.from_bytes(group, "big")
        for _ in range(len(group) + 1):
            text += BASE45[value % 45]
            value //= 45
    return text


def base64url(data):
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def base64url_decode(text):
    """Canonical and without padding: what does not come back letter for letter is refused."""
    try:
        data = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except (binascii.Error, ValueError) as error:
        raise Refused("not base64url") from error
    if base64url(data) != text:
        raise Refused("not canonical base64url")
    return data


def unpack(code):
    """The JWT inside a code."""
    if len(code) > CODE_LENGTH_MAX or not code.startswith(PREFIX):
        raise Refused("not a code of this form")
    raw = base45_decode(code[len(PREFIX) :])
    if len(raw) < 3:
        raise Refused("too short")
    first = 3 + raw[0]
    second = first + int.from_bytes(raw[1:3], "big")
    parts = (raw[3:first], raw[first:second], raw[second:])
    if second > len(raw) or not all(parts):
        raise Refused("the lengths do not fit")
    return ".".join(base64url(part) for part in parts)


def pack(token):
    """The code of a JWT: the way back."""
    header, payload, signature = (base64url_decode(part) for part in token.split("."))
    lengths = len(header).to_bytes(1, "big") + len(payload).to_bytes(2, "big")
    return PREFIX + base45_encode(lengths + header + payload + signature)


def once(pairs):
    """An object whose members are each named once."""
    names = [name for name, _ in pairs]
    if len(set(names)) != len(names):
        raise Refused("a member is named twice")
    return dict(pairs)


def strict_json(data):
    def no_constant(_):
        raise Refused("not JSON")

    try:
        value = json.loads(data.decode("utf-8"), object_pairs_hook=once, parse_constant=no_constant)
    except (ValueError, RecursionError) as error:
        raise Refused("not JSON") from error
    if not isinstance(value, dict):
        raise Refused("not an object")
    return value


def key_ring(jwks):
    """The P-256 keys of a JWK Set by their id (RFC 7517 section 5: others are passed over)."""
    ring = {}
    for key in jwks["keys"]:
        if (key.get("kty"), key.get("crv")) == ("EC", "P-256"):
            ring[key["kid"]] = jwt.PyJWK.from_dict({**key, "alg": "ES256"}).key
    return ring


def open_jws(ring, token, typ=None):
    """The payload of a token of one kind, after its signature was checked."""
    parts = token.split(".")
    if len(parts) != 3:
        raise Refused("not three parts")
    header, payload, signature = (base64url_decode(part) for part in parts)
    members = strict_json(header)
    wanted = {"alg": "ES256", "kid": members.get("kid")} | ({"typ": typ} if typ else {})
    if members != wanted or not isinstance(members["kid"], str):
        raise Refused("not the header of this kind of token")
    if members["kid"] not in ring:
        raise Refused("unknown key")
    if len(signature) != 64:
        raise Refused("not a signature")
    try:
        jwt.api_jws.decode_complete(token, ring[members["kid"]], algorithms=["ES256"])
    except jwt.InvalidTokenError as error:
        raise Refused("wrong signature") from error
    return payload


def is_number(value):
    return isinstance(value, int) and not isinstance(value, bool)


def is_date(number):
    if not is_number(number) or not 0 <= number < 2**32:
        return False
    year, month, day = number // 10000, number // 100 % 100, number % 100
    leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    days = [31, 29 if leap else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    return 1 <= month <= 12 and 1 <= day <= days[month - 1]


def is_serial(text):
    """Ten characters whose weighted sum is 0 modulo 29."""
    values = [SERIAL.find(character) for character in text]
    if len(values) != 10 or -1 in values:
        return False
    return sum(value * weight for weight, value in enumerate(reversed(values), 1)) % 29 == 0


def is_respirator(pair):
    if not isinstance(pair, list) or len(pair) != 2:
        return False
    code, due = pair
    return isinstance(code, str) and re.fullmatch(r"[A-Za-z0-9_-]{1,22}", code) is not None and is_date(due)


def check_claims(claims):
    if set(claims) != CLAIMS:
        raise Refused("not the claims of a badge")
    iss, jti, iat, exp, sti, rsp = (claims[name] for name in ("iss", "jti", "iat", "exp", "sti", "rsp"))
    good = (
        isinstance(iss, str)
        and 1 <= len(iss) <= 64
        and not any(0xD800 <= ord(character) <= 0xDFFF for character in iss)
        and isinstance(jti, str)
        and is_serial(jti)
        and is_number(iat)
        and is_number(exp)
        and 0 <= iat < exp < YEAR_10000
        and is_number(sti)
        and 0 <= sti < 2**64
        and isinstance(rsp, list)
        and 1 <= len(rsp) <= 4
        and all(is_respirator(pair) for pair in rsp)
    )
    if not good:
        raise Refused("claims beyond their limits")


def verify_jwt(ring, token, at):
    """The claims of a badge at the moment `at`, in seconds since 1970."""
    if len(token) > JWT_LENGTH_MAX:
        raise Refused("too long")
    claims = strict_json(open_jws(ring, token))
    check_claims(claims)
    if claims["exp"] <= at:
        raise Expired
    return claims


class StatusList:
    """A list that was read: `value(index)` is the stored number, or None beyond its end."""

    def __init__(self, claims, bits, data):
        self.claims = claims
        self.bits = bits
        self.data = data

    def value(self, index):
        per_byte = 8 // self.bits
        if index // per_byte >= len(self.data):
            return None
        return self.data[index // per_byte] >> index % per_byte * self.bits & (1 << self.bits) - 1


def inflate(lst):
    reader = zlib.decompressobj()
    try:
        data = reader.decompress(base64url_decode(lst), LIST_BYTES_MAX + 1)
    except zlib.error as error:
        raise Refused("not zlib") from error
    if not reader.eof or reader.unused_data or len(data) > LIST_BYTES_MAX:
        raise Refused("not one whole zlib stream")
    return data


def read_status_list(ring, token, issuer, at):
    claims = strict_json(open_jws(ring, token, "statuslist+jwt"))
    sub, iat, exp, body = (claims.get(name) for name in ("sub", "iat", "exp", "status_list"))
    good = (
        isinstance(sub, str)
        and sub.endswith(f"/api/v1/status_lists/{issuer}")
        and is_number(iat)
        and (exp is None or is_number(exp))
        and isinstance(body, dict)
        and is_number(body.get("bits"))
        and body["bits"] in (1, 2, 4, 8)
        and isinstance(body.get("lst"), str)
    )
    if not good:
        raise Refused("not the claims of a status list of this issuer")
    if exp is not None and exp <= at:
        raise Refused("the status list is over")
    return StatusList(claims, body["bits"], inflate(body["lst"]))


def verdict(ring, code, status_list, issuer, at):
    """What a code is worth: valid, held, ended, expired, refused, or unknown where the list cannot tell."""
    try:
        claims = verify_jwt(ring, unpack(code), at)
    except Refused:
        return "refused"
    except Expired:
        return "expired"
    if claims["iss"] != issuer:
        return "refused"
    return {0: "valid", 1: "ended", 2: "held"}.get(status_list.value(claims["sti"]), "unknown")
