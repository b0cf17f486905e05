# Formulas of colour for tests in awk, apart from those of lib/. Used through `colours` of tests/lib.sh.
function abs(x) { return x < 0 ? -x : x }

# CIE 15: the cube root with its straight part near 0, and back.
function lab_f(t) { return t > 216 / 24389 ? t^(1 / 3) : (24389 / 27 * t + 16) / 116 }
function lab_back(t) { return t > 6 / 29 ? t^3 : (116 * t - 16) * 27 / 24389 }

# The code of sRGB, 0 to 65535 and not rounded, of a linear value (IEC 61966-2-1).
function code(v) {
    v = v < 0 ? 0 : v > 1 ? 1 : v
    return 65535 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v^(1 / 2.4) - 0.055)
}
function rounded(v) { return int(code(v) + 0.5) }
# "R G B" of a CIELAB D50: the matrix is sRGB's from D50 (IEC 61966-2-1 primaries, Bradford; from memory).
function srgb(L, a, b,  X, Y, Z) {
    Y = (L + 16) / 116
    X = .9642 * lab_back(Y + a / 500); Z = .8249 * lab_back(Y - b / 200); Y = lab_back(Y)
    return rounded(3.1338561 * X - 1.6168667 * Y - .4906146 * Z) " " \
        rounded(-.9787684 * X + 1.9161415 * Y + .0334540 * Z) " " rounded(.0719453 * X - .2289914 * Y + 1.4052427 * Z)
}

# Black-point compensation: XYZ scaled so that black falls on a neutral of L* black, and the white stays (the usual
# published description, from memory).
function compensated(L, a, b, black,  k, x, y, z) {
    k = lab_back((black + 16) / 116)
    y = (L + 16) / 116
    x = lab_f(k + (1 - k) * lab_back(y + a / 500)); z = lab_f(k + (1 - k) * lab_back(y - b / 200))
    y = lab_f(k + (1 - k) * lab_back(y))
    return sprintf("%.5f %.5f %.5f", 116 * y - 16, 500 * (x - y), 200 * (y - z))
}

# CIEDE2000 (Sharma, Wu, Dalal 2005).
function share(c) { return sqrt(c^7 / (c^7 + 25^7)) }
function hue(a, b,  h) { h = a == 0 && b == 0 ? 0 : atan2(b, a) * 180 / pi; return h < 0 ? h + 360 : h }
function cosd(x) { return cos(x * pi / 180) }
function ciede2000(L1, a1, b1, L2, a2, b2,  g, c1, c2, h1, h2, dh, dL, dC, dH, L, C, h, t, sL, sC, sH, rT) {
    pi = 3.14159265358979
    g = .5 * (1 - share((sqrt(a1^2 + b1^2) + sqrt(a2^2 + b2^2)) / 2))
    a1 *= 1 + g; a2 *= 1 + g; c1 = sqrt(a1^2 + b1^2); c2 = sqrt(a2^2 + b2^2); h1 = hue(a1, b1); h2 = hue(a2, b2)
    dh = h2 - h1; if (dh > 180) dh -= 360; if (dh < -180) dh += 360
    dL = L2 - L1; dC = c2 - c1; dH = 2 * sqrt(c1 * c2) * sin(dh / 2 * pi / 180)
    L = (L1 + L2) / 2; C = (c1 + c2) / 2; h = (h1 + h2) / 2; if (abs(h1 - h2) > 180) h += h < 180 ? 180 : -180
    t = 1 - .17 * cosd(h - 30) + .24 * cosd(2 * h) + .32 * cosd(3 * h + 6) - .2 * cosd(4 * h - 63)
    sL = 1 + .015 * (L - 50)^2 / sqrt(20 + (L - 50)^2); sC = 1 + .045 * C; sH = 1 + .015 * C * t
    rT = -sin(60 * exp(-((h - 275) / 25)^2) * pi / 180) * 2 * share(C)
    return sqrt((dL / sL)^2 + (dC / sC)^2 + (dH / sH)^2 + rT * dC / sC * dH / sH)
}
