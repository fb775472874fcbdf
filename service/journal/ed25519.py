"""Check an Ed25519 signature with nothing but Python (RFC 8032, sections 5.1.3, 5.1.7 and 6).

A package is checked by strangers on machines where nothing is installed, and its check trusts no writer:
the signatures that `heads` makes with a library are therefore checked by this second implementation. It
handles public values only, so its running time gives nothing away; it cannot sign. A check takes some
milliseconds.
"""

import hashlib

_P = 2**255 - 19
_L = 2**252 + 27742317777372353535851937790883648493
_D = -121665 * pow(121666, -1, _P) % _P
_ROOT_OF_MINUS_ONE = pow(2, (_P - 1) // 4, _P)

Point = tuple[int, int, int, int]
"""A point of the curve in extended coordinates (X, Y, Z, T), x = X/Z, y = Y/Z, x*y = T/Z."""

_NEUTRAL: Point = (0, 1, 1, 0)


def signature_fits(public_key: bytes, message: bytes, signature: bytes) -> bool:
    """Say whether `signature` (64 bytes) over `message` was made with the key of `public_key` (32 bytes).

    Every malformed input is simply no fitting signature: wrong lengths, coordinates outside the field,
    points off the curve, and S not below the group order (RFC 8032, 5.1.7: otherwise signatures are
    malleable).
    """
    if len(public_key) != 32 or len(signature) != 64:
        return False
    signer = _point(public_key)
    s = int.from_bytes(signature[32:], "little")
    if signer is None or s >= _L:
        return False
    challenge = hashlib.sha512(signature[:32] + public_key + message).digest()
    k = int.from_bytes(challenge, "little") % _L
    # [S]B = R + [k]A, compared by the encoding of R, as the signer wrote it.
    found = _sum(_multiple(s, _GENERATOR), _multiple(k, _negative(signer)))
    return _encoded(found) == signature[:32]


def _point(encoded: bytes) -> Point | None:
    """Decode a point by RFC 8032, 5.1.3; None where there is none."""
    sign = encoded[31] >> 7
    y = int.from_bytes(encoded, "little") & (2**255 - 1)
    if y >= _P:
        return None
    x = _x_of(y)
    if x is None or (x == 0 and sign):
        return None
    if x & 1 != sign:
        x = _P - x
    return (x, y, 1, x * y % _P)


def _x_of(y: int) -> int | None:
    """Solve -x^2 + y^2 = 1 + d x^2 y^2 for x; None where no x does."""
    square = (y * y - 1) * pow(_D * y * y + 1, -1, _P) % _P
    x = pow(square, (_P + 3) // 8, _P)
    if (x * x - square) % _P:
        x = x * _ROOT_OF_MINUS_ONE % _P
    return None if (x * x - square) % _P else x


def _sum(first: Point, second: Point) -> Point:
    """Add two points (RFC 8032, 5.1.4); the formula is complete, so doubling needs no other."""
    a = (first[1] - first[0]) * (second[1] - second[0]) % _P
    b = (first[1] + first[0]) * (second[1] + second[0]) % _P
    c = 2 * first[3] * second[3] * _D % _P
    d = 2 * first[2] * second[2] % _P
    e, f, g, h = b - a, d - c, d + c, b + a
    return (e * f % _P, g * h % _P, f * g % _P, e * h % _P)


def _negative(point: Point) -> Point:
    return (-point[0] % _P, point[1], point[2], -point[3] % _P)


def _multiple(scalar: int, point: Point) -> Point:
    """Add `point` to itself `scalar` times, by doubling."""
    result = _NEUTRAL
    while scalar:
        if scalar & 1:
            result = _sum(result, point)
        point = _sum(point, point)
        scalar >>= 1
    return result


def _encoded(point: Point) -> bytes:
    to_one = pow(point[2], -1, _P)
    x, y = point[0] * to_one % _P, point[1] * to_one % _P
    return (y | (x & 1) << 255).to_bytes(32, "little")


def _generator() -> Point:
    """Return B, the point with y = 4/5 and an even x (RFC 8032, 5.1)."""
    y = 4 * pow(5, -1, _P) % _P
    point = _point(y.to_bytes(32, "little"))
    if point is None:
        raise ArithmeticError("The generator of Ed25519 does not lie on its curve.")
    return point


_GENERATOR = _generator()
