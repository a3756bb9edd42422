"""The text of a token: which shop, which token, and a secret that is stored only as its hash."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import secrets
from uuid import UUID

import msgspec

_TEXT = re.compile(r"sk_([A-Za-z0-9_-]{64})")
_SECRET_BYTES = 16


class TokenText(msgspec.Struct, frozen=True):
    """A token as it is handed out once: `str()` gives the text to send."""

    shop_id: UUID
    token_id: UUID
    secret: bytes

    def __str__(self) -> str:
        """Write it: ``sk_`` and 64 letters, digits, hyphens and underlines."""
        whole = self.shop_id.bytes + self.token_id.bytes + self.secret
        return "sk_" + base64.urlsafe_b64encode(whole).decode()

    def secret_sha256(self) -> bytes:
        """Hash the secret. It has 128 random bits, so no slow hash is needed."""
        return hashlib.sha256(self.secret).digest()

    def is_proven_by(self, secret_sha256: bytes) -> bool:
        """Compare with the stored hash in a time that tells nothing."""
        return hmac.compare_digest(self.secret_sha256(), secret_sha256)


def new_token(shop_id: UUID, token_id: UUID) -> TokenText:
    """Make a token with a fresh secret."""
    return TokenText(shop_id, token_id, secrets.token_bytes(_SECRET_BYTES))


def read_token(text: str) -> TokenText | None:
    """Read a token's text; None when it is not one."""
    match = _TEXT.fullmatch(text)
    if match is None:
        return None
    whole = base64.urlsafe_b64decode(match[1])
    return TokenText(UUID(bytes=whole[:16]), UUID(bytes=whole[16:32]), whole[32:])
