"""The sheet as a picture: its codes are read, and it bears black and white."""

from assemblies.pdf.build_sheet import draw_build_sheet
from fleet.pdf.frame import LETTER
from tests.paper_reading import codes, pictures
from tests.unit.assemblies.sheet_samples import everyday, worst


def test_has_two_codes_that_another_program_reads() -> None:
    (picture,) = pictures(draw_build_sheet(everyday()))
    assert codes(picture) == [
        "HTTPS://HOSES.BLACKMERE.EXAMPLE/J/77",
        "HTTPS://HOSES.BLACKMERE.EXAMPLE/S/LX-0412/3",
    ]


def test_has_codes_that_are_read_from_a_black_and_white_copy() -> None:
    (picture,) = pictures(draw_build_sheet(worst(), page=LETTER))
    copied = picture.convert("L").point(lambda level: 255 * (level > 128)).convert("1").convert("L")
    assert len(codes(copied)) == 2


def test_has_no_colour_in_its_picture() -> None:
    (picture,) = pictures(draw_build_sheet(worst()), dpi=40)
    red, green, blue = picture.convert("RGB").split()
    assert red.tobytes() == green.tobytes() == blue.tobytes()
