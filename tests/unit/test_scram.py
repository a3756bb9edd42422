"""The password verifier against an outside one."""

from __future__ import annotations

import base64
import hashlib
import hmac

from stallkeep.store.roles import scram_verifier


def test_the_verifier_is_the_one_of_the_published_exchange() -> None:
    """RFC 7677 section 3: user "user", password "pencil", 4096 rounds, this salt.

    The exchange shows the server's signature and the client's proof, not the stored keys; both
    are recomputed from the verifier here and compared with the RFC's.
    """
    salt = base64.b64decode("W22ZaJ0SNY7soEsUEjb6gQ==")
    verifier = scram_verifier("pencil", salt)
    assert verifier.startswith("SCRAM-SHA-256$4096:W22ZaJ0SNY7soEsUEjb6gQ==$")
    nonce = "rOprNGfwEbeRWgbNEkqO%hvYDpWUa2RaTCAfuxFIlj)hNlF$k0"
    message = (
        "n=user,r=rOprNGfwEbeRWgbNEkqO,"
        f"r={nonce},s=W22ZaJ0SNY7soEsUEjb6gQ==,i=4096,c=biws,r={nonce}"
    ).encode()
    stored, server = (base64.b64decode(key) for key in verifier.rpartition("$")[2].split(":"))
    assert _signature(server, message) == "6rriTRBi23WpRR/wtup+mMhUZUn/dB5nLTJRsjl95G4="
    proof = base64.b64decode("dHzbZapWIk4jUhN+Ute9ytag9zjfMHgsqmmiz7AndVQ=")
    assert _key_of(proof, stored, message) == stored


def _signature(key: bytes, message: bytes) -> str:
    return base64.b64encode(hmac.digest(key, message, "sha256")).decode()


def _key_of(proof: bytes, stored: bytes, message: bytes) -> bytes:
    """What the server stores for the client key that a proof hides."""
    mask = hmac.digest(stored, message, "sha256")
    return hashlib.sha256(bytes(a ^ b for a, b in zip(proof, mask, strict=True))).digest()
