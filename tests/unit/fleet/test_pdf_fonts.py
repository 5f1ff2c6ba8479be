"""Faces of the host: those with TrueType outlines and the wanted signs, and no others."""

import shutil
from pathlib import Path

from fleet.pdf import fonts

SHIPPED = Path(fonts.__file__).parent / "typefaces" / "DejaVuSansCondensed.ttf"


def test_passes_over_a_face_without_ideographs(tmp_path: Path) -> None:
    shutil.copy(SHIPPED, tmp_path / "some-fallback.ttf")
    assert fonts.find_faces((tmp_path,)) == ()


def test_passes_over_a_damaged_file(tmp_path: Path) -> None:
    (tmp_path / "broken-cjk.ttf").write_bytes(b"\x00\x01\x00\x00" + b"\xff" * 300)
    (tmp_path / "empty-gothic.ttc").write_bytes(b"")
    assert fonts.find_faces((tmp_path,)) == ()


def test_passes_over_outlines_of_the_other_kind(tmp_path: Path) -> None:
    (tmp_path / "other-cjk.ttf").write_bytes(b"OTTO" + SHIPPED.read_bytes()[4:])
    assert fonts.find_faces((tmp_path,)) == ()


def test_bears_folders_that_are_not_there(tmp_path: Path) -> None:
    assert fonts.find_faces((tmp_path / "nowhere",)) == ()


def test_ships_the_licence_beside_the_faces() -> None:
    text = (SHIPPED.parent / "LICENSE.txt").read_text()
    assert "Bitstream Vera" in text
    assert "Permission is hereby granted" in text


def test_sets_runs_in_the_face_that_has_their_signs() -> None:
    assert fonts.pieces("abc", bold=True) == [("Layline-Bold", "abc")]
    assert fonts.pieces("aЖω") == [("Layline", "aЖω")]


def test_takes_the_plain_face_for_a_sign_the_bold_one_lacks() -> None:
    plain, bold = fonts._own_face(False), fonts._own_face(True)
    lacking = next(
        chr(n) for n in range(0x100, 0xFFFF) if n in plain.glyphs and n not in bold.glyphs
    )
    assert fonts.pieces(lacking, bold=True) == [("Layline", lacking)]
