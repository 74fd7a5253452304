"""Compares three answers to each question at a gate: the server's, sellion-gate's, and that of pack.py.

Usage: check_packs.py DIRECTORY, as tests/src/bin/gate-cases.rs left it.
"""

import base64
import collections
import json
import pathlib
import sys

import jwt

sys.path.append(str(pathlib.Path(__file__).parent.parent / "badge"))

from pack import Pack, base45, keys_of, moment, opened, serial_number, PACK_TYPE  # noqa: E402
from report import Report  # noqa: E402


def altered(token, place):
    """The token with one bit of its payload changed."""
    head, payload, signature = token.split(".")
    raw = bytearray(base64.urlsafe_b64decode(payload + "=" * (-len(payload) % 4)))
    raw[place % len(raw)] ^= 1 << place % 8
    return f"{head}.{base64.urlsafe_b64encode(bytes(raw)).rstrip(b'=').decode()}.{signature}"


def is_refused(keys, token):
    try:
        opened(keys, token, PACK_TYPE)
    except (jwt.InvalidTokenError, ValueError, KeyError):
        return True
    return False


def main():
    folder = pathlib.Path(sys.argv[1])
    report = Report("packs")
    # The reader itself first: RFC 9285 sections 4.3 and 4.4 (facts 10.44, 10.45).
    report.equal("RFC 9285 s.4.3: BB8", base45("BB8"), b"AB")
    report.equal("RFC 9285 s.4.4: QED8WEX0", base45("QED8WEX0"), b"ietf!")
    keys = keys_of(json.loads((folder / "jwks.json").read_text("utf-8")))
    packs = {}
    for path in sorted(folder.glob("*.pack")):
        token = path.read_text("utf-8").strip()
        packs[path.stem] = Pack(keys, token, path.with_suffix(".current").read_text("utf-8").strip())
        report.equal(f"{path.stem}: is for that gate", packs[path.stem].claims["sub"], path.stem)
        refused = all(is_refused(keys, altered(token, place)) for place in range(0, 100_000, 1_009))
        report.check(f"{path.stem}: is refused with any bit changed", refused)
    cases = json.loads((folder / "cases.json").read_text("utf-8"))
    differ, seen, old = [], collections.Counter(), 0
    for case in cases:
        pack, at = packs[case["gate"]], moment(case["at"])
        # The server's knowledge has no age. Where the pack is too old, a gate alone may say no more than that.
        wanted = case["server"]
        if pack.too_old(at) and wanted != "not_valid":
            wanted, old = "cannot_confirm", old + 1
        mine, program = pack.answer(case["text"], at), case["sellion_gate"]
        seen[wanted] += 1
        if not wanted == mine == program:
            differ.append((case, mine, wanted))
    for case, mine, wanted in differ[:5]:
        print(f"differs: {case} pack.py {mine} wanted {wanted}")
    agreed = f"the server, sellion-gate and pack.py agree on {len(cases) - len(differ)} of {len(cases)} questions"
    report.check(f"{agreed} ({old} of them too old)", cases and not differ)
    answers = ("enter", "not_cleared", "cannot_confirm", "not_valid")
    report.check(f"every answer was asked for: {dict(seen)}", min(seen[word] for word in answers) >= len(cases) // 50)
    report.equal("a typed serial's check character", serial_number("2222222222"), 0)
    report.finish()


if __name__ == "__main__":
    main()
