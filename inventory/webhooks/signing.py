"""How a message is signed: the Standard Webhooks specification, version 1 of its symmetric signatures.

A receiver recomputes HMAC-SHA256 over "id.timestamp.body" with the secret, compares in constant time, and refuses a
timestamp that is more than five minutes off.
"""

import base64
import hashlib
import hmac

PREFIX = "whsec_"
VERSION = "v1"


def secret_in_words(key: bytes) -> str:
    """The secret as it is shown and typed into a receiver."""
    return PREFIX + base64.b64encode(key).decode()


def signature(key: bytes, *, message: str, timestamp: int, body: str) -> str:
    signed = f"{message}.{timestamp}.{body}".encode()
    digest = hmac.new(key, signed, hashlib.sha256).digest()
    return f"{VERSION},{base64.b64encode(digest).decode()}"


def headers(key: bytes, *, message: str, timestamp: int, body: str) -> dict[str, str]:
    """The three headers of a signed message."""
    return {
        "webhook-id": message,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": signature(key, message=message, timestamp=timestamp, body=body),
    }
