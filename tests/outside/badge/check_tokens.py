"""Reads every sample code the way a stranger would, from the published format alone.

Base45 is undone by a few lines written from RFC 9285, the packing by the layout in the documentation, and the
token is verified by PyJWT against the JWK Set. Usage: check_tokens.py DIRECTORY
"""

import base64
import json
import pathlib
import sys

import jwt

from report import Report

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
PREFIX = "SL1:"


def base45_decode(text):
    """RFC 9285 section 4: groups of three are two bytes, a last group of two is one."""
    digits = [ALPHABET.index(character) for character in text]
    out = bytearray()
    for start in range(0, len(digits), 3):
        group = digits[start : start + 3]
        value = sum(digit * 45**power for power, digit in enumerate(group))
        out += value.to_bytes(len(group) - 1, "big")
    return bytes(out)


def unpack(code):
    """Header length, payload length in two bytes, then the three parts."""
    if not code.startswith(PREFIX):
        raise ValueError("prefix")
    raw = base45_decode(code[len(PREFIX) :])
    first = 3 + raw[0]
    second = first + int.from_bytes(raw[1:3], "big")
    parts = (raw[3:first], raw[first:second], raw[second:])
    return ".".join(base64.urlsafe_b64encode(part).rstrip(b"=").decode() for part in parts)


def verify(keys, token):
    kid = jwt.get_unverified_header(token)["kid"]
    return jwt.decode(token, keys[kid], algorithms=["ES256"], options={"require": ["exp", "iat", "iss", "jti"]})


def is_refused(keys, code):
    try:
        verify(keys, unpack(code))
    except (jwt.InvalidTokenError, KeyError):
        return True
    return False


def main():
    expected = json.loads((pathlib.Path(sys.argv[1]) / "expected.json").read_text("utf-8"))
    report = Report("tokens")
    # RFC 9285 section 4.4 and 4.3 (fact 10.44, 10.45): the decoder itself first.
    report.equal("RFC 9285 s.4.4: QED8WEX0", base45_decode("QED8WEX0"), b"ietf!")
    report.equal("RFC 9285 s.4.3: UJCLQE7W581", base45_decode("UJCLQE7W581"), b"base-45")
    # RFC 7517 section 5: a set with "keys", each of kind EC on P-256 (RFC 7518 section 6.2).
    keys = {key.key_id: key.key for key in jwt.PyJWKSet.from_dict(expected["jwks"]).keys}
    report.check("RFC 7517 s.5: PyJWT reads the JWK Set", bool(keys))
    for badge in expected["badges"]:
        serial = badge["serial"]
        token = unpack(badge["code"])
        report.equal(f"{serial}: code holds the very token", token, badge["jwt"])
        claims = verify(keys, token)
        report.equal(f"{serial}: PyJWT verifies it (RFC 7515, RFC 7518 s.3.4)", claims["jti"], badge["jti"])
        head, payload, signature = token.split(".")
        changed = bytearray(base64.urlsafe_b64decode(payload + "=" * (-len(payload) % 4)))
        changed[len(changed) // 2] ^= 1
        altered = base64.urlsafe_b64encode(bytes(changed)).rstrip(b"=").decode()
        try:
            verify(keys, f"{head}.{altered}.{signature}")
            report.check(f"{serial}: one changed bit is refused", False)
        except jwt.InvalidSignatureError:
            report.check(f"{serial}: one changed bit is refused", True)
    for case in expected["refused"]:
        report.check(f"refused: {case['why']}", is_refused(keys, case["code"]))
    report.finish()


if __name__ == "__main__":
    main()
