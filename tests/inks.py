#!/usr/bin/python3
"""C M Y K in per cent for each line L* a* b*, from the relative colorimetric table of a CMYK profile.

usage: inks.py PROFILE [trilinear]

A reader of lut16Type (ICC.1:2022, 10.10) of its own, in numpy, that shares nothing with lcms2. The standard leaves open
how to interpolate between the nodes of a table: tetrahedrally here, as carn-sample and argyll 2.3.1 do, or trilinearly,
as argyll 3.3.0 does.
"""
import itertools
import struct
import sys

import numpy as np

with open(sys.argv[1], "rb") as profile:
    data = profile.read()
tags = {}
for k in range(struct.unpack(">I", data[128:132])[0]):
    name, start, size = struct.unpack(">4sII", data[132 + 12 * k : 144 + 12 * k])
    tags[name] = data[start : start + size]
table = tags[b"B2A1"]
assert table[:4] == b"mft2" and table[8:10] == b"\x03\x04"
nodes = table[10]
before, after = struct.unpack(">HH", table[48:52])
numbers = np.frombuffer(table[52:], ">u2") / 65535
curves_in = numbers[: 3 * before].reshape(3, before)
grid = numbers[3 * before :][: nodes**3 * 4].reshape(nodes, nodes, nodes, 4)
curves_out = numbers[3 * before + nodes**3 * 4 :][: 4 * after].reshape(4, after)

lab = np.loadtxt(sys.stdin, ndmin=2)[:, :3]
code = np.stack([lab[:, 0] / 100 * 65280, (lab[:, 1] + 128) * 256, (lab[:, 2] + 128) * 256], 1) / 65535
places = [np.interp(code[:, c] * (before - 1), range(before), curves_in[c]) for c in range(3)]
at = np.stack(places, 1) * (nodes - 1)
corner = np.minimum(at.astype(int), nodes - 2)
part = at - corner
inks = np.zeros((len(lab), 4))
if sys.argv[2:] == ["trilinear"]:
    for step in itertools.product((0, 1), repeat=3):
        share = np.where(step, part, 1 - part).prod(1, keepdims=True)
        inks += share * grid[tuple((corner + step).T)]
else:  # from corner to corner along the axes, the one with the largest part first
    order = np.argsort(-part, 1, kind="stable")
    place, rows, last = corner.copy(), np.arange(len(lab)), np.ones(len(lab))
    for k in range(3):
        share = part[rows, order[:, k]]
        inks += (last - share)[:, None] * grid[tuple(place.T)]
        place[rows, order[:, k]] += 1
        last = share
    inks += last[:, None] * grid[tuple(place.T)]
for row in inks:
    print(*(f"{100 * np.interp(row[c] * (after - 1), range(after), curves_out[c]):.6f}" for c in range(4)))
