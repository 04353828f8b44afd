"""Open Badges 3.0 credentials through openbadgeslib: signature, structure, and the W3C Bitstring Status List that says
whether they are called back, whose own signature is checked too.

Arguments: the instant at which it is, a file with one compact JWS a line, and pairs of an address and the file that is
found there. Prints for each credential "stands" or "called back"; any other refusal is a failure."""

import json
import sys

import jwt
from cryptography.hazmat.primitives import serialization
from freezegun import freeze_time
from openbadgeslib.ob3.verifier import OB3VerificationError, OB3Verifier

now, credentials, *found = sys.argv[1:]
lists = {address: open(file, "rb").read() for address, file in zip(found[::2], found[1::2])}


def verifier(token):
    key = jwt.PyJWK(jwt.get_unverified_header(token)["jwk"]).key
    return OB3Verifier(
        key.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
    )


def refusal(token, lists):
    try:
        verifier(token).verify(token, check_status=True, download=lambda address: lists[address])
    except OB3VerificationError as why:
        return str(why)
    return None


def changed(token, claim):
    """The token with a claim left out and the old signature."""
    head, payload, signature = token.split(".")
    claims = json.loads(jwt.utils.base64url_decode(payload))
    del claims[claim]
    return ".".join([head, jwt.utils.base64url_encode(json.dumps(claims).encode()).decode(), signature])


with freeze_time(now):
    for token in open(credentials).read().split():
        why = refusal(token, lists)
        if why and "status 'revocation' is set" not in why:
            sys.exit(why)
        print("called back" if why else "stands")
        # What must not be taken: a credential that says nothing of its list, a list that is not signed by the same, none.
        forged = {address: changed(text.decode(), "validUntil").encode() for address, text in lists.items()}
        for wrong in [refusal(changed(token, "credentialStatus"), lists), refusal(token, forged), refusal(token, {})]:
            if not wrong:
                sys.exit("a forged credential or list is taken")
with freeze_time(now, tz_offset=0) as clock:
    clock.tick(25 * 3600)
    if "expired" not in (refusal(token, lists) or ""):
        sys.exit("a list of yesterday is taken")
