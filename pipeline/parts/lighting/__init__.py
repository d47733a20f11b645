"""Light that falls into the imagined room: patches, shadows, and what real LEDs in the built one do.

Terms
-----
light
    A lamp or a beam of the scene; its source is a homogeneous point.
cell
    What a lamp or a face is in: the hall, what lies behind one opening, or the outside.
way in
    The openings, one after the other, that light passes from its cell to that of a face.
patch
    What light that came through openings falls on, of one face.
shadow
    What a body keeps dark of what would be lit, of one face.
"""
