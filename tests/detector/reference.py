#!/usr/bin/python3
"""What the published face detector's own file gives for twenty pictures, computed by other means than
ours: the flatbuffer is run operator by operator, as it stands, in numpy.

usage: reference.py face_detection_short_range.tflite >tests/data/face_detector_reference.tsv

The pictures are ellipses of chance, in integers, made alike here and in tests/network.c.
"""
import struct
import sys

import numpy as np

PICTURES, SIDE, EVERY = 20, 128, 75
ADD, CONCATENATE, CONVOLVE, DEPTHWISE, DEQUANTIZE, MAX_POOL, RELU, RESHAPE, PAD = 0, 2, 3, 4, 6, 17, 19, 22, 34


class Table:
    def __init__(self, data, at):
        self.data, self.at = data, at
        self.slots = at - struct.unpack_from("<i", data, at)[0]

    def place(self, n):
        if 4 + 2 * n >= struct.unpack_from("<H", self.data, self.slots)[0]:
            return None
        offset = struct.unpack_from("<H", self.data, self.slots + 4 + 2 * n)[0]
        return self.at + offset if offset else None

    def number(self, n, form, missing=0):
        p = self.place(n)
        return missing if p is None else struct.unpack_from("<" + form, self.data, p)[0]

    def table(self, n):
        p = self.place(n)
        return None if p is None else Table(self.data, p + struct.unpack_from("<I", self.data, p)[0])

    def array(self, n, form):
        p = self.place(n)
        if p is None:
            return np.zeros(0, form)
        p += struct.unpack_from("<I", self.data, p)[0]
        return np.frombuffer(self.data, form, struct.unpack_from("<I", self.data, p)[0], p + 4)

    def tables(self, n):
        p = self.place(n)
        p += struct.unpack_from("<I", self.data, p)[0]
        count = struct.unpack_from("<I", self.data, p)[0]
        return [Table(self.data, q + struct.unpack_from("<I", self.data, q)[0]) for q in range(p + 4, p + 4 + 4 * count, 4)]


def windows(x, size, step, same):
    """x cut into windows: 1, rows, columns, channels, size, size."""
    if same:
        out = -(-x.shape[1] // step)
        pad = max(0, (out - 1) * step + size - x.shape[1])
        around = (pad // 2, pad - pad // 2)
        x = np.pad(x, ((0, 0), around, around, (0, 0)))
    return np.lib.stride_tricks.sliding_window_view(x, (size, size), axis=(1, 2))[:, ::step, ::step]


class Model:
    def __init__(self, data):
        root = Table(data, struct.unpack_from("<I", data, 0)[0])
        self.codes = [max(c.number(0, "b"), c.number(3, "i")) for c in root.tables(1)]
        graph, buffers = root.tables(2)[0], root.tables(4)
        self.inputs, self.outputs = graph.array(1, "<i4"), graph.array(2, "<i4")
        self.operators, self.shapes, self.constant = graph.tables(3), [], {}
        for i, tensor in enumerate(graph.tables(0)):
            shape = tensor.array(0, "<i4")
            values = buffers[tensor.number(2, "I")].array(0, {0: "<f4", 1: "<f2", 2: "<i4"}[tensor.number(1, "b")])
            raw = buffers[tensor.number(2, "I")].array(0, "u1").tobytes()
            self.shapes.append(shape)
            if raw:
                self.constant[i] = np.frombuffer(raw, values.dtype).reshape(shape)

    def run(self, picture):
        v = dict(self.constant)
        v[self.inputs[0]] = picture
        for operator in self.operators:
            code, options = self.codes[operator.number(0, "I")], operator.table(4)
            ins, out = operator.array(1, "<i4"), operator.array(2, "<i4")[0]
            x, active = v[ins[0]], 0
            if code == DEQUANTIZE:
                y = x.astype(np.float32)
            elif code == CONVOLVE:
                active = options.number(3, "b")
                cut = windows(x, v[ins[1]].shape[1], options.number(1, "i", 1), options.number(0, "b") == 0)
                y = np.einsum("nhwcij,oijc->nhwo", cut, v[ins[1]], optimize=True) + v[ins[2]]
            elif code == DEPTHWISE:
                active = options.number(4, "b")
                cut = windows(x, v[ins[1]].shape[1], options.number(1, "i", 1), options.number(0, "b") == 0)
                y = np.einsum("nhwcij,ijc->nhwc", cut, v[ins[1]][0], optimize=True) + v[ins[2]]
            elif code == ADD:
                y = x + v[ins[1]]
            elif code == MAX_POOL:
                y = windows(x, 2, 2, False).max((-1, -2))
            elif code == RELU:
                y = np.maximum(x, 0)
            elif code == PAD:
                y = np.pad(x, v[ins[1]])
            elif code == RESHAPE:
                y = x.reshape(self.shapes[out])
            elif code == CONCATENATE:
                y = np.concatenate([v[i] for i in ins], axis=options.number(0, "i"))
            else:
                sys.exit("reference.py: operator %d is not known" % code)
            if active != 0:
                sys.exit("reference.py: activation %d is not known" % active)
            v[out] = y.astype(np.float32)
        boxes, logits = (v[i][0] for i in self.outputs)
        return np.hstack([logits, boxes])


def chance(seed):
    """A linear congruence (Numerical Recipes' constants, from memory)."""
    while True:
        seed = (seed * 1664525 + 1013904223) % 2**32
        yield seed >> 16


def picture(number):
    c = chance(number + 1)
    p = np.full((SIDE, SIDE, 3), next(c) % 256, np.int64)
    y, x = np.mgrid[:SIDE, :SIDE]
    for _ in range(16):
        cx, cy, rx, ry = next(c) % SIDE, next(c) % SIDE, 3 + next(c) % 40, 3 + next(c) % 40
        colour = [next(c) % 256 for _ in range(3)]
        p[((x - cx) * ry) ** 2 + ((y - cy) * rx) ** 2 <= (rx * ry) ** 2] = colour
    return (p.astype(np.float32) / np.float32(127.5) - 1)[None]


with open(sys.argv[1], "rb") as file:
    model = Model(file.read())
print("# face_detection_short_range.tflite of npm package @mediapipe/face_detection 0.4.1657300184, run in numpy by tests/detector/reference.py")
print("picture", "anchor", "logit", *("r%d" % i for i in range(16)), sep="\t")
for number in range(PICTURES):
    for anchor, row in enumerate(model.run(picture(number))):
        if anchor % EVERY == number % EVERY:
            print(number, anchor, *("%.5f" % v for v in row), sep="\t")
