"""How the scene's camera is to be placed and set, and what it then shows.

Terms
-----
pupil
    The entrance pupil: the image of the diaphragm seen through the front of the lens. Perspective is that of it.
frame
    What the sensor shows of the plane of the opening, with the lens pointed square to it and focused as near as it will
    be: focused farther away, the sensor comes nearer to the lens and shows a little more.
crop
    What is to be trimmed from a picture's sides so that the hall alone is left, shares of its width or height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from pipeline.checks.evidence import Evidence
from pipeline.report.forgiving import ARC_MINUTE, Forgiveness
from pipeline.room.photographing import blur_of, pupil_of
from pipeline.scene.camera import CameraTable
from pipeline.sight import lens

Rectangle = tuple[float, float, float, float]
"""(left, bottom, right, top) in the plane of the opening, built mm."""
MOST_TOLD = 60
"""Focus distances that anybody would set."""
CLOSE = 1e-6
"""Share of a distance; a lens whose focal length is as much less than it focuses there at best by a miracle."""
HALVINGS = 40
"""Of the range in which a focal length is sought: far below what any lens is made to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One aperture and what it takes.

    Attributes
    ----------
    number
        The f-number.
    sharp
        Nearest and farthest distance that one picture, focused as well as can be, shows sharp, mm.
    pictures
        How many it takes that together are sharp from front to back.
    focus
        Where to focus for each of them, mm; empty where they are more than ``MOST_TOLD``.
    leeway
        How far each focus may be missed, mm; infinite where it does not matter.
    airy
        Diameter of the disc that diffraction makes of a point, on the sensor, mm.
    """

    number: float
    sharp: tuple[float, float]
    pictures: int
    focus: tuple[float, ...]
    leeway: float
    airy: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """Everything there is to tell of the camera; built mm.

    Attributes
    ----------
    pupil, eye
        Where the entrance pupil is to be, and the eye point.
    focal, sensor, blur
        Of the lens; width and height of the sensor, the longer side along the picture's; the blur that passes for a
        point.
    upright
        Whether the camera is turned on its side.
    near, far
        From the pupil to the opening, and to the farthest that is seen, along the axis.
    stop
        The f-number at which one picture is just sharp from near to far.
    settings
        What each aperture takes, the widest first.
    best
        The widest aperture among those that take the fewest pictures and stay above diffraction.
    nearest
        The nearest of the distances to focus at, mm; that of the opening where they are too many to be told.
    beside_film
        From the film plane to there, less the distance from the pupil; of a thin lens.
    alone
        The longest lens that shows all sharp in one picture at one of these apertures, with what diffraction blurs
        still passing for points, and that aperture; nothing where diffraction blurs all of them.
    board
        Thickness of the box's bottom board, mm; nothing where nobody says how the box is made.
    frame
        What the picture shows of the plane of the opening.
    opening, hall
        The box's opening, and what the hall fills of it.
    longest
        Longest lens that shows all of the opening, and of the hall.
    crop
        (left, bottom, right, top) shares to trim to the hall; below zero where the hall is cut off.
    parallax_rad, limit_rad
        How far what it sees lies from the imagined room, and how far it may.
    smear
        The same on the sensor, mm.
    """

    pupil: tuple[float, float, float]
    eye: tuple[float, float, float]
    focal: float
    sensor: tuple[float, float]
    blur: float
    upright: bool
    near: float
    far: float
    stop: float
    settings: tuple[Setting, ...]
    best: Setting
    nearest: float
    beside_film: float
    alone: tuple[float, float] | None
    board: float | None
    frame: Rectangle
    opening: Rectangle
    hall: Rectangle
    longest: tuple[float, float]
    crop: Rectangle
    parallax_rad: float
    limit_rad: float
    smear: float

    @property
    def focus(self) -> float:
        """Where to focus for one picture, mm."""
        return lens.focus(self.near, self.far)


def photograph(evidence: Evidence, forgiven: Forgiveness) -> Photograph | None:
    """Return how to photograph a built scene; nothing for one without a camera."""
    camera, room = evidence.scene.camera, evidence.room
    if camera is None:
        return None
    x, y, z = pupil = pupil_of(camera, room.relief)
    near = -y
    far = near + forgiven.sharp[1] - forgiven.sharp[0]
    blur, focal = blur_of(camera), camera.lens
    width, height, _ = room.box
    opening = (-width / 2, 0.0, width / 2, height)
    hall = room.hall
    within = (-hall.width / 2, hall.floor, hall.width / 2, hall.floor + hall.height)
    settings = _settings(camera, focal, near, far)
    best = _best(settings, blur)
    nearest = best.focus[0] if best.focus else near
    image = lens.image_distance(focal, nearest)
    long, short = max(camera.sensor), min(camera.sensor)
    held = {False: (long, short), True: (short, long)}
    upright = max(held, key=lambda turned: _image(held[turned], opening, pupil))
    sensor = held[upright]
    reach_x, reach_z = (side / 2 * near / image for side in sensor)
    make = evidence.scene.box.make
    return Photograph(
        pupil=pupil,
        eye=room.relief.eye,
        focal=focal,
        sensor=sensor,
        blur=blur,
        upright=upright,
        near=near,
        far=far,
        stop=lens.stop(focal, near, far, blur),
        settings=settings,
        best=best,
        nearest=nearest,
        beside_film=image,
        alone=_alone(camera, near, far),
        board=None if make is None else make.board,
        frame=(x - reach_x, z - reach_z, x + reach_x, z + reach_z),
        opening=opening,
        hall=within,
        longest=(_longest(camera, opening, pupil, far), _longest(camera, within, pupil, far)),
        crop=(
            (within[0] - x + reach_x) / (2 * reach_x),
            (within[1] - z + reach_z) / (2 * reach_z),
            (x + reach_x - within[2]) / (2 * reach_x),
            (z + reach_z - within[3]) / (2 * reach_z),
        ),
        parallax_rad=forgiven.camera_rad,
        limit_rad=forgiven.limit_rad,
        smear=image * math.tan(forgiven.camera_rad),
    )


def _settings(camera: CameraTable, focal: float, near: float, far: float) -> tuple[Setting, ...]:
    return tuple(_setting(number, focal, near, far, blur_of(camera)) for number in sorted(set(camera.apertures)))


def _best(settings: tuple[Setting, ...], blur: float) -> Setting:
    return min(settings, key=lambda one: (one.airy > blur, one.pictures, one.number))


def _setting(number: float, focal: float, near: float, far: float, blur: float) -> Setting:
    s = lens.focus(near, far)
    count = lens.pictures(focal, number, near, far, blur)
    return Setting(
        number=number,
        sharp=lens.sharp(focal, number, s, blur),
        pictures=count,
        focus=lens.focus_steps(focal, near, far, count) if count <= MOST_TOLD else (),
        leeway=lens.leeway(focal, number, near, far, count=count, blur=blur),
        airy=lens.airy_disc(focal, number, s),
    )


def _image(sensor: tuple[float, float], shown: Rectangle, pupil: tuple[float, float, float]) -> float:
    """Return at which distance behind the lens the sensor just holds a rectangle of the opening's plane, mm."""
    across = max(pupil[0] - shown[0], shown[2] - pupil[0])
    up = max(pupil[2] - shown[1], shown[3] - pupil[2])
    return min(sensor[0] / 2 / across, sensor[1] / 2 / up) * -pupil[1]


def _longest(camera: CameraTable, shown: Rectangle, pupil: tuple[float, float, float], far: float) -> float:
    """Return the longest lens that shows a rectangle whole in all of its pictures, the camera held as suits it."""
    near, (width, height) = -pupil[1], camera.sensor
    image = max(_image(sides, shown, pupil) for sides in ((width, height), (height, width)))
    # The nearest focus lies between front and back, and in front of every lens.
    low, high = lens.focal_for(image, near), min(lens.focal_for(image, far), (1 - CLOSE) * near)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        focus = _best(_settings(camera, middle, near, far), blur_of(camera)).focus
        if lens.image_distance(middle, focus[0] if focus else near) <= image:
            low = middle
        else:
            high = middle
    return low


def _alone(camera: CameraTable, near: float, far: float) -> tuple[float, float] | None:
    """Return the longest lens for which one picture is enough and no aperture but one without diffraction is needed."""
    blur, s = blur_of(camera), lens.focus(near, far)
    lenses = [(lens.focal_alone(number, near, far, blur), number) for number in camera.apertures]
    return max((one for one in lenses if lens.airy_disc(*one, s) <= blur), default=None)


def camera_entry(found: Photograph | None) -> dict[str, Any] | None:
    """Return the manifest's entry; lengths in mm, built, distances from the entrance pupil."""
    if found is None:
        return None
    return {
        "pupil": _rounded(found.pupil),
        "focal": found.focal,
        "sensor": _rounded(found.sensor),
        "blur": _round(found.blur),
        "sharp": _rounded((found.near, found.far)),
        "focus": _round(found.focus),
        "stop": _round(found.stop),
        "aperture": found.best.number,
        "focus_steps": _rounded(found.best.focus),
        "pictures": found.best.pictures,
        "leeway": _round(found.best.leeway) if math.isfinite(found.best.leeway) else None,
        "one_picture_lens": None if found.alone is None else _round(found.alone[0]),
        "frame": _rounded(found.frame),
        "longest_lens": {"opening": _round(found.longest[0]), "hall": _round(found.longest[1])},
        "crop": _rounded(found.crop),
        "parallax_arcmin": _round(found.parallax_rad / ARC_MINUTE),
    }


def _rounded(values: tuple[float, ...]) -> list[float]:
    return [_round(value) for value in values]


def _round(value: float) -> float:
    return round(value, 4) + 0.0
