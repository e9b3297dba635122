"""Keys: enough chance in them, and nothing kept that opens anything."""

import hashlib
import math

from service.store.keys import SECRET_BYTES, digest, is_key, make_key, prefix_of


def test_a_key_has_256_random_bits_beside_its_prefix() -> None:
    key = make_key()
    mark, prefix, secret = key.text.split("_")
    assert (mark, prefix) == ("tbk", key.prefix)
    assert SECRET_BYTES * 8 >= 256
    assert len(secret) * math.log2(32) >= 256
    assert len({make_key().text for _ in range(200)}) == 200


def test_every_character_of_the_secret_varies() -> None:
    secrets = [make_key().text.rpartition("_")[2] for _ in range(200)]
    # of the last character only one bit is of the secret, the others fill it up
    assert all(len({secret[place] for secret in secrets}) > 10 for place in range(51))


def test_what_is_kept_is_the_sha_256_of_the_key() -> None:
    key = make_key()
    assert key.digest == hashlib.sha256(key.text.encode()).digest() == digest(key.text)
    assert is_key(key.text, key.digest)
    assert not is_key(make_key().text, key.digest)
    assert not is_key(key.text, None)
    assert not is_key("", None)


def test_a_prefix_is_read_from_keys_alone() -> None:
    key = make_key()
    assert prefix_of(key.text) == key.prefix
    for wrong in (
        "",
        "tbk_",
        key.text[:-1],
        key.text + "a",
        key.text.upper(),
        f" {key.text}",
        key.text.replace("_", "-"),
    ):
        assert prefix_of(wrong) is None
