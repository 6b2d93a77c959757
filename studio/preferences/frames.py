"""The frame of every paper: the studio's name, contact lines and logo."""

from studio.papers.frame import PageFrame
from studio.preferences.models import Studio


def frame_for(
    studio: Studio, title: str, place_and_date: str = "", note: str = "", footer: str = ""
) -> PageFrame:
    """Whose paper it is, what, where and when; a note above its rows and one at the foot of each page."""
    return PageFrame(
        studio.name,
        title,
        place_and_date,
        note,
        footer,
        contact=studio.contact_lines,
        logo=studio.logo_content(),
    )
