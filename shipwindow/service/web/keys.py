"""Who may ask, and which form is ours: the shop's token, the cookie after a log-in, the key in every form.

For: ``Keys``. Must not know: requests, pages. Signing is itsdangerous (HMAC, compared in constant time); the token
itself is compared by ``hmac.compare_digest`` over digests, so that neither its length nor its start can be timed.

The log-in cookie is signed with a key made from the token: it outlives a restart, and changing the token logs everybody
out. Forms are signed with a key of this process.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

from itsdangerous import BadSignature, URLSafeTimedSerializer

LOGIN_COOKIE = "shipwindow-login"
VISIT_COOKIE = "shipwindow-visit"
LOGIN_S = 14 * 86400  # engineering choice: two weeks of mornings
FORM_S = 24 * 3600  # engineering choice: a page left open over a day
SHORTEST_TOKEN = 20  # characters; 20 random letters and digits are over 100 bits


class Keys:
    """The keys of one running desk; ``token`` is empty where none is asked for."""

    def __init__(self, token: str) -> None:
        self._token = token
        digest = hashlib.sha256(b"log-in\0" + token.encode()).digest()
        self._logins = URLSafeTimedSerializer(digest, salt="log-in")
        self._forms = URLSafeTimedSerializer(secrets.token_bytes(32), salt="form")

    @property
    def asked(self) -> bool:
        """Whether a token is needed at all."""
        return bool(self._token)

    def is_token(self, given: str) -> bool:
        """Compare with the shop's token, in a time that tells nothing."""
        ours = hashlib.sha256(self._token.encode()).digest()
        theirs = hashlib.sha256(given.encode("utf-8", "surrogateescape")).digest()
        return self.asked and hmac.compare_digest(ours, theirs)

    def login_cookie(self) -> str:
        """Make the cookie of one who has shown the token."""
        return str(self._logins.dumps("in"))

    def is_login(self, cookie: str) -> bool:
        """Check a log-in cookie: ours, and not too old."""
        return self.asked and self._read(self._logins, cookie, LOGIN_S) == "in"

    @staticmethod
    def new_visit() -> str:
        """Make the random name of a browser's visit."""
        return secrets.token_urlsafe(18)

    def form_key(self, visit: str) -> str:
        """Make the key that a form of this visit carries."""
        return str(self._forms.dumps(visit))

    def is_form_key(self, given: str, visit: str) -> bool:
        """Check a form's key against the visit's cookie."""
        said = self._read(self._forms, given, FORM_S)
        return bool(visit) and hmac.compare_digest(str(said or "").encode(), visit.encode())

    @staticmethod
    def _read(serializer: URLSafeTimedSerializer, text: str, age_s: int) -> object:
        try:
            return serializer.loads(text, max_age=age_s)
        except BadSignature:  # too old is one of them
            return None
