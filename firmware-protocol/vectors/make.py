"""Writes frames.txt. The checksum is Python's own binascii.crc_hqx (polynomial
1021). Byte stuffing is written from its definition: what stands between zeros,
each part led by its length plus one (all parts here are shorter than 254)."""
import binascii
import pathlib

MAX = 64

def payload(kind, seq, body=b""):
    data = bytes([kind, seq]) + body
    return data + binascii.crc_hqx(data, 0xFFFF).to_bytes(2, "little")

def wire(p):
    return b"".join(bytes([len(part) + 1]) + part for part in p.split(b"\0")) + b"\0"

ok = [
    (0x01, 1, bytes([1, 0])),
    (0x02, 2, b""),
    (0x02, 0, b""),
    (0x03, 255, (800).to_bytes(4, "little", signed=True) + (1600).to_bytes(2, "little")),
    (0x03, 7, (-1).to_bytes(4, "little", signed=True) + (0).to_bytes(2, "little")),
    (0x04, 8, bytes([0])),
    (0x04, 9, bytes([1])),
    (0x05, 10, bytes([1])),
    (0x06, 11, (-2**31).to_bytes(4, "little", signed=True) + (2**31 - 1).to_bytes(4, "little", signed=True)),
    (0x07, 12, (123456).to_bytes(4, "little", signed=True)),
    (0x09, 13, b""),
    (0x0A, 14, bytes.fromhex("01020304 13 01 0400 dc05 fa00")), # identity 04030201, stop, limits, supply, reversed, 4, 1500, 250 mA
    (0x8A, 14, bytes(21) + bytes.fromhex("01020304 13 01 0400 dc05 fa00 01")),
    (0x82, 2, bytes(21)),
    (0x40, 0, bytes(range(1, 22))),
    (0x82, 3, bytes(15) + bytes([0x11]) + bytes(5) + (2**32 - 1).to_bytes(4, "little")), # moving, stepped
    (0x40, 1, bytes(range(1, 26))),
    (0x3F, 1, bytes(MAX - 4)),
    (0x3F, 2, bytes([255]) * (MAX - 4)),
]
good = payload(0x02, 3)
bad = [
    ("checksum", wire(good[:-1] + bytes([good[-1] ^ 1]))),
    ("checksum", wire(bytes([0x03]) + good[1:])),
    ("checksum", wire(good[:-2] + good[:-3:-1])),
    ("short", wire(b"")),
    ("short", wire(b"\x02")),
    ("short", wire(binascii.crc_hqx(b"\x02", 0xFFFF).to_bytes(2, "little"))),
    ("short", wire(b"\x02" + binascii.crc_hqx(b"\x02", 0xFFFF).to_bytes(2, "little"))),
    ("stuffing", wire(good)[:3] + b"\0"),
    ("stuffing", b"\xff\x02\x03\x00"),
    ("long", wire(payload(0x3F, 3, bytes([170]) * (MAX - 3)))),
    ("long", bytes([0x55]) * 200 + b"\0"),
]
with open(pathlib.Path(__file__).with_name("frames.txt"), "w") as out:
    out.write("# made by make.py: ok <type, sequence, body> <wire>, or bad <reason> <wire>\n")
    for kind, seq, body in ok:
        out.write(f"ok {(bytes([kind, seq]) + body).hex()} {wire(payload(kind, seq, body)).hex()}\n")
    for reason, w in bad:
        out.write(f"bad {reason} {w.hex()}\n")
