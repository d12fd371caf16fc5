#!/usr/bin/python3
"""Cuts the papers' fonts from Debian's fonts-open-sans. Needs fonttools.

Run in this folder. Two things are done to the original: only the characters
that papers use are kept, and figures for denominators are added at U+2080 to
U+2089 (the raised figures, let down to the base line), so that a fraction such
as 3/16 sets, and copies, as text.
"""
from fontTools import subset
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

SOURCE = "/usr/share/fonts/truetype/open-sans/OpenSans-%s.ttf"
RANGES = [(0x20, 0x7E), (0xA0, 0x17F), (0x1E80, 0x1EF9), (0x2010, 0x2026), (0x2030, 0x203A)]
SINGLE = "\u2044\u2070\u2074\u2075\u2076\u2077\u2078\u2079\u20ac\u2116\u2122\u2126\u215b\u215c\u215d\u215e\u2212\u2248\u2260\u2264\u2265\u25ca\ufffd"
DIGITS = "zero one two three four five six seven eight nine".split()

for cut, name in [("Regular", "regular"), ("Bold", "bold"), ("CondBold", "narrow-bold")]:
    font = TTFont(SOURCE % cut)
    drop = font["glyf"]["onesuperior"].yMin
    for i, digit in enumerate(DIGITS):
        raised, lowered = digit + "superior", digit + "inferior"
        pen = TTGlyphPen(font.getGlyphSet())
        pen.addComponent(raised, (1, 0, 0, 1, 0, -drop))
        font["glyf"][lowered] = pen.glyph()
        font["hmtx"][lowered] = font["hmtx"][raised]
        for table in font["cmap"].tables:
            if table.isUnicode():
                table.cmap[0x2080 + i] = lowered
    keep = [c for a, b in RANGES for c in range(a, b + 1)] + [ord(c) for c in SINGLE] + list(range(0x2080, 0x208A))
    keep += [0xB9, 0xB2, 0xB3]
    options = subset.Options(layout_features=[], hinting=False, desubroutinize=True, notdef_outline=True, name_IDs=[0, 1, 2, 4, 6, 13, 14])
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=keep)
    cutter.subset(font)
    font.save("open-sans-%s.ttf" % name)
