"""Open Badges 3.0 credentials: signatures through PyJWT (EdDSA) with the key in their header; refuses a changed byte.

Arguments: a file with one compact JWS a line. Prints each payload as one line of JSON."""

import json
import sys

import jwt

for line in open(sys.argv[1]):
    line = line.strip()
    header = jwt.get_unverified_header(line)
    assert header["alg"] == "EdDSA" and header["typ"] == "JWT", header
    assert "d" not in header["jwk"], "the private key"
    key = jwt.PyJWK(header["jwk"]).key
    options = {"verify_nbf": False, "require": ["iss", "jti", "nbf"]}
    print(json.dumps(jwt.decode(line, key, algorithms=["EdDSA"], options=options)))
    head, payload, signature = line.split(".")
    changed = ".".join([head, payload[:-2] + ("A" if payload[-2] != "A" else "B") + payload[-1], signature])
    try:
        jwt.decode(changed, key, algorithms=["EdDSA"], options=options)
    except jwt.InvalidTokenError:
        continue
    sys.exit("a changed byte is taken")
